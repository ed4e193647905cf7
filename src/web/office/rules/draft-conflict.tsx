import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { type Format, readDraft } from './read-draft.ts';

const { t } = text;

interface ConflictProps {
  ruleSetId: string;
  format: Format;
  desk: Desk;
  /** the own text is to be saved over what the tag stands for */
  onKeep(etag: string | undefined): void;
}

/** Somebody saved meanwhile: his text to be read, the own one still in the editor. */
export function DraftConflict({ ruleSetId, format, desk, onKeep }: ConflictProps) {
  const load = useLoad(`conflict ${ruleSetId} ${format}`, () => readDraft(ruleSetId, format, desk.token));
  return (
    <div class="notice look stack" role="alert">
      <p>{t('draft.conflict')}</p>
      <Loaded of={load}>
        {({ text: theirs, etag }) => (
          <>
            <details>
              <summary>{t('draft.theirs')}</summary>
              <pre tabIndex={0}>{theirs}</pre>
            </details>
            <div class="row">
              <button type="button" onClick={() => onKeep(etag)}>
                {t('conflict.keep')}
              </button>
            </div>
          </>
        )}
      </Loaded>
    </div>
  );
}

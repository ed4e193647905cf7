import { useState } from 'preact/hooks';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { DraftEditor } from './draft-editor.tsx';
import { type Format, readDraft, readUnsaved } from './read-draft.ts';
import { Trials } from './trials.tsx';
import { Versions } from './versions.tsx';

const { t } = text;

/** One rule set: its draft, its trials, and what was published of it. */
export function RuleSetPage({ ruleSetId, desk }: { ruleSetId: string; desk: Desk }) {
  const [format, setFormat] = useState<Format>(readUnsaved(ruleSetId)?.format ?? 'yaml');
  const [published, setPublished] = useState(0);
  const load = useLoad(`draft ${ruleSetId} ${format}`, () => readDraft(ruleSetId, format, desk.token));
  return (
    <>
      <Loaded of={load}>
        {(draft) => (
          <>
            <h3>{draft.name}</h3>
            <DraftEditor
              key={draft.format}
              draft={draft}
              desk={desk}
              onFormat={setFormat}
              onPublished={() => {
                setPublished((count) => count + 1);
                load.reload();
              }}
            />
          </>
        )}
      </Loaded>
      <Trials ruleSetId={ruleSetId} desk={desk} round={published} />
      <Versions ruleSetId={ruleSetId} desk={desk} round={published} />
      <p>
        <a href="/docs/rule-sets">{t('rules.reference')}</a>
      </p>
    </>
  );
}

import { useState } from 'preact/hooks';
import { LinkSheet } from '../access/link-sheet.tsx';
import { NewEntry } from '../entries/edit-entry.tsx';
import type { OfficeContext } from '../parts/office-context.ts';
import { Link } from '../parts/link.tsx';
import { Panel } from '../parts/panel.tsx';
import { startText } from './text.ts';

const { t } = startText;

interface EntriesStepProps {
  office: OfficeContext;
  onSaved(): void;
}

/** Who is entered: one by one here, a whole list by the import. */
export function EntriesStep({ office, onSaved }: EntriesStepProps) {
  const [round, setRound] = useState(0);
  const done = (): void => {
    setRound((count) => count + 1);
    onSaved();
  };
  return (
    <>
      <Panel title={t('entries.title')}>
        <p>{t('entries.why')}</p>
        <div class="row">
          <Link to={{ section: 'import' }} class="button primary">
            {t('entries.import')}
          </Link>
          <Link to={{ section: 'entries' }} class="button">
            {t('entries.all')}
          </Link>
        </div>
      </Panel>
      <NewEntry key={round} office={office} onDone={done} />
    </>
  );
}

/** The links with which entrants declare: made for a whole group, printed or copied. */
export function LinksStep({ office, onSaved }: EntriesStepProps) {
  return (
    <>
      <Panel title={t('links.title')}>
        <p>{t('links.why')}</p>
        <p class="notice look">{t('links.caution')}</p>
      </Panel>
      <LinkSheet office={office} onMinted={onSaved} />
    </>
  );
}

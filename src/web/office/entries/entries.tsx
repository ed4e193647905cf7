import { useState } from 'preact/hooks';
import type { OfficeContext } from '../parts/office-context.ts';
import { go, place } from '../parts/link.tsx';
import { text } from '../text.ts';
import { NewEntry } from './edit-entry.tsx';
import { EntryDetail } from './entry-detail.tsx';
import { EntryList } from './entry-list.tsx';

const { t } = text;

/** The list, or one entry. */
export function Entries({ office }: { office: OfficeContext }) {
  const [adding, setAdding] = useState(false);
  const { entry } = place.value;
  if (entry !== undefined) return <EntryDetail key={entry} entryId={entry} office={office} />;
  if (adding) {
    return (
      <NewEntry
        office={office}
        onDone={(entryId) => {
          setAdding(false);
          if (entryId !== undefined) go({ section: 'entries', entry: entryId });
        }}
      />
    );
  }
  return (
    <>
      {office.session.role === 'organizer' && (
        <div class="row">
          <button type="button" onClick={() => setAdding(true)}>
            {t('entry.new')}
          </button>
        </div>
      )}
      <EntryList office={office} />
    </>
  );
}

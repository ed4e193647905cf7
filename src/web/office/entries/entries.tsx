import { useState } from 'preact/hooks';
import type { Desk } from '../parts/desk.ts';
import { go, place } from '../parts/place.ts';
import { text } from '../text.ts';
import { EntryDetail } from './entry-detail.tsx';
import { EntryList } from './entry-list.tsx';
import { NewEntry } from './new-entry.tsx';

const { t } = text;

/** The list, or one entry. */
export function Entries({ desk }: { desk: Desk }) {
  const [adding, setAdding] = useState(false);
  const { entry } = place.value;
  if (entry !== undefined) return <EntryDetail key={entry} entryId={entry} desk={desk} />;
  if (adding) {
    return (
      <NewEntry
        desk={desk}
        onDone={(entryId) => {
          setAdding(false);
          if (entryId !== undefined) go({ section: 'entries', entry: entryId });
        }}
      />
    );
  }
  return (
    <>
      {desk.session.role === 'organizer' && (
        <div class="row">
          <button type="button" onClick={() => setAdding(true)}>
            {t('entry.new')}
          </button>
        </div>
      )}
      <EntryList desk={desk} />
    </>
  );
}

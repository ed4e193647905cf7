import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { mintToken, type MintTokenInput } from '../../api/operations.ts';
import { useGroups } from '../entries/entry-fields.tsx';
import { readRows } from '../entries/rows.ts';
import { given, type OfficeContext } from '../parts/office-context.ts';
import { Form, Select } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { Qr } from '../parts/secret.tsx';
import { text } from '../text.ts';

export type Role = MintTokenInput['role'];

/** Whose access is for named events and ends with them. */
export const isOfEvents = (role: Role): boolean => role === 'chief' || role === 'inspector' || role === 'marshal';

/** What says that access of the staff is for the event of the office; nothing for those who have none. */
export const forEvent = (role: Role, eventId: string): { eventIds?: string[] } =>
  isOfEvents(role) ? { eventIds: [eventId] } : {};

const PAGES: Record<Role, string> = {
  organizer: 'office',
  chief: 'office',
  inspector: 'line',
  marshal: 'gate',
  entrant: 'garage',
};

/** The link that opens a role's page with its access; behind `#`, which a browser sends to nobody. */
export const linkFor = (role: Role, token: string): string =>
  `${location.origin}/${PAGES[role]}#${encodeURIComponent(token)}`;

/** The id of a person of the staff, where one was given: entries that name it are the own cars. */
export function personIdIn({ personId }: { personId: string }): { personId?: string } {
  const id = given(personId);
  return id === undefined ? {} : { personId: id };
}

const { t } = text;

export interface Card {
  entryId: string;
  carNumber: string;
  holder: string;
  link: string;
}

/** New links for every entry of a run group on one sheet, to be printed and cut. */
export function LinkSheet({ office, onMinted }: { office: OfficeContext; onMinted(): void }) {
  const groups = useGroups(office);
  const [runGroupId, setRunGroupId] = useState('');
  const [cards, setCards] = useState<readonly Card[]>([]);
  const [progress, setProgress] = useState('');
  const chosen = runGroupId === '' ? (groups.data?.[0]?.runGroupId ?? '') : runGroupId;
  const send = async (): Promise<void> => {
    setCards([]);
    await makeCards(office, chosen, (card, done, all) => {
      setCards((old) => [...old, card]);
      setProgress(t('sheet.progress', { done, all }));
    });
    onMinted();
  };
  return (
    <Panel title={t('sheet.title')}>
      <p>{t('sheet.how')}</p>
      <Form label={t('sheet.title')} submit={t('sheet.make')} onSend={send}>
        <Select
          label={t('group')}
          value={chosen}
          onValue={setRunGroupId}
          options={(groups.data ?? []).map((group) => [group.runGroupId, group.name])}
        />
      </Form>
      <p role="status">{progress}</p>
      {cards.length > 0 && (
        <>
          <p class="notice look">{t('sheet.caution')}</p>
          <div class="row no-print">
            <button type="button" class="primary" onClick={() => print()}>
              {t('sheet.print')}
            </button>
            <button
              type="button"
              onClick={() => {
                setCards([]);
                setProgress('');
              }}
            >
              {t('secret.close')}
            </button>
          </div>
          <ul class="plain sheet">
            {cards.map((card) => (
              <SheetCard key={card.entryId} card={card} eventName={office.event.name} />
            ))}
          </ul>
        </>
      )}
    </Panel>
  );
}

function SheetCard({ card, eventName }: { card: Card; eventName: string }) {
  return (
    <li>
      <p>
        <strong>{t('car', { number: card.carNumber })}</strong>, {card.holder}
      </p>
      <p>{eventName}</p>
      <Qr value={card.link} name={t('sheet.qr', { number: card.carNumber })} />
      <p>
        <code class="key">{card.link}</code>
      </p>
      <p>{t('sheet.card')}</p>
    </li>
  );
}

/** One token after the other; what was made before a failure stays on the sheet. */
export async function makeCards(
  office: OfficeContext,
  runGroupId: string,
  tell: (card: Card, done: number, all: number) => void,
): Promise<void> {
  const rows = [];
  let cursor: string | undefined;
  do {
    const page = await readRows(office, { carNumber: '', runGroupId, status: '' }, cursor);
    rows.push(...page.rows.filter(({ status }) => status !== 'withdrawn'));
    cursor = page.next;
  } while (cursor !== undefined);
  for (const [index, { entryId, carNumber, entrant = '' }] of rows.entries()) {
    const body = { role: 'entrant', holder: entrant, entryId } as const;
    const { body: minted } = await call(mintToken, { body }, { token: office.token });
    const card = { entryId, carNumber, holder: entrant, link: linkFor('entrant', minted.token) };
    tell(card, index + 1, rows.length);
  }
}

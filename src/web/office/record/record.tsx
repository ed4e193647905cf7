import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  type Catalogue,
  completeCondition,
  type EntryRecord,
  getCatalogue,
  getEntryRecord,
  getPhoto,
  listInspections,
  listPhotos,
  type PhotoView,
} from '../../api/operations.ts';
import { defineText } from '../../shared/text.ts';
import { Form, Input } from '../parts/form.tsx';
import { dayAndTime, given, type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Loaded, Panel, Table } from '../parts/panel.tsx';
import { answersIn, saidOf } from './answers.ts';

/** Texts of an entry's record, loaded with the part itself. */
const recordText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = recordText;
export { recordText as text };

/** What a server that says "not changed" would leave us with; we never ask in that way. */
const NO_CATALOGUE = { items: [] };

interface RecordProps {
  entryId: string;
  office: OfficeContext;
  /** changes when the entry was read again */
  at: number;
  reload(): void;
}

/** What was said, seen, measured and decided: answers beside what the line measured, sign-offs, conditions, photos. */
export function Record({ entryId, office, at, reload }: RecordProps) {
  const { token } = office;
  const load = useLoad(`record ${entryId} ${at}`, async (signal) => {
    const options = { token, signal };
    const params = { entryId };
    const [record, inspections, catalogue, photos] = await Promise.all([
      call(getEntryRecord, { params }, options),
      call(listInspections, { params }, options),
      call(getCatalogue, {}, options),
      call(listPhotos, { params }, options),
    ]);
    const newest = inspections.body.inspections.toSorted((a, b) => b.revision - a.revision)[0];
    return { record: record.body, newest, catalogue: catalogue.body ?? NO_CATALOGUE, photos: photos.body.photos };
  });
  return (
    <Loaded of={load}>
      {({ record, newest, catalogue, photos }) => (
        <>
          <Conditions {...{ record, office, reload }} />
          <Answers {...{ record, catalogue, office }} answers={newest?.answers ?? {}} />
          <SignOffs {...{ record, office }} />
          {photos.length > 0 && <Photos {...{ photos, catalogue, office }} />}
        </>
      )}
    </Loaded>
  );
}

interface PartProps {
  record: EntryRecord;
  office: OfficeContext;
}

function Conditions({ record, office, reload }: PartProps & { reload(): void }) {
  if (record.conditions.length === 0) return null;
  const mayEnd = office.session.role === 'chief';
  return (
    <Panel title={t('conditions')}>
      <ul class="plain">
        {record.conditions.map(({ conditionId, text, dueAt, done }) => (
          <li key={conditionId} data-condition={done === undefined ? 'open' : 'done'}>
            <span>
              <strong>{text}</strong>{' '}
              {dueAt !== undefined && <span class="soft">{t('due', { at: dayAndTime(dueAt, office.timeZone) })}</span>}
            </span>
            {done !== undefined && (
              <p class="soft">
                {t('done', { by: done.by, at: dayAndTime(done.at, office.timeZone) })} {done.note}
              </p>
            )}
            {done === undefined && mayEnd && (
              <Done {...{ conditionId, text, office, reload }} entryId={record.entryId} />
            )}
          </li>
        ))}
      </ul>
      {!mayEnd && record.conditions.some(({ done }) => done === undefined) && <p>{t('chiefEnds')}</p>}
    </Panel>
  );
}

interface DoneProps {
  entryId: string;
  conditionId: string;
  text: string;
  office: OfficeContext;
  reload(): void;
}

function Done({ entryId, conditionId, text, office, reload }: DoneProps) {
  const [note, setNote] = useState('');
  const send = async (): Promise<void> => {
    const said = given(note);
    const body = said === undefined ? {} : { note: said };
    await call(completeCondition, { params: { entryId, conditionId }, body }, { token: office.token });
    say(t('ended', { text }));
    reload();
  };
  return (
    <Form label={t('endOf', { text })} submit={t('end')} onSend={send}>
      <Input label={t('endNote')} hint={t('endNoteHint')} pointer="/note" value={note} onValue={setNote} />
    </Form>
  );
}

interface AnswersProps extends PartProps {
  catalogue: Pick<Catalogue, 'items'>;
  answers: Readonly<{ [key: string]: unknown }>;
}

/** Every answer of the newest declaration, and what the line measured in its place. */
function Answers({ record, catalogue, office, answers }: AnswersProps) {
  const said = record.submissions[0];
  const checks = record.signOffs.flatMap((one) => one.checks.map((check) => ({ ...check, by: one.by })));
  const rows = answersIn(answers, catalogue, checks);
  return (
    <Panel title={t('answers')}>
      {said === undefined ? (
        <p>{t('notDeclared')}</p>
      ) : (
        <p>
          {t('saidBy', { by: said.by, at: dayAndTime(said.at, office.timeZone), revision: said.revision })}{' '}
          {said.typedBy !== undefined && t('typedBy', { by: said.typedBy })}
        </p>
      )}
      {rows.length > 0 && (
        <details>
          <summary>{t('all', { count: rows.length })}</summary>
          <Table caption={t('answers')} head={[t('what'), t('declared'), t('line')]}>
            {rows.map(({ key, label, position, declared, measured, by, readWith, note }) => (
              <tr key={`${key} ${position ?? ''}`} data-answer={key}>
                <th scope="row">{position === undefined ? label : `${label}, ${position}`}</th>
                <td>{declared === undefined ? t('notSaid') : wordOf(declared)}</td>
                <td>
                  {measured !== undefined && `${wordOf(measured)} (${by ?? ''})`}{' '}
                  {readWith !== undefined &&
                    t('readWith', { name: readWith.name, spread: `${readWith.uncertainty} ${readWith.unit}` })}{' '}
                  {note}
                </td>
              </tr>
            ))}
          </Table>
        </details>
      )}
    </Panel>
  );
}

/** An answer in words: what stands in the place of one has words of its own. */
function wordOf(value: unknown): string {
  if (value === true) return t('yes');
  if (value === false) return t('no');
  if (value === 'ok') return t('ok');
  if (value === 'not-ok') return t('notOk');
  const said = saidOf(value);
  if (said.kind === 'not-sure') return t('notSure');
  if (said.kind === 'does-not-apply') return t('doesNotApply', { reason: said.text });
  return said.text;
}

function SignOffs({ record, office }: PartProps) {
  if (record.signOffs.length === 0) return null;
  return (
    <Panel title={t('signOffs')}>
      <ul class="plain">
        {record.signOffs.map(({ signOffId, decision, by, at, note, stickerNumber, checks }) => (
          <li key={signOffId} data-decision={decision}>
            <strong>{t(`decision.${decision}`)}</strong> {t('byAt', { by, at: dayAndTime(at, office.timeZone) })}
            {stickerNumber !== undefined && ` ${t('sticker', { number: stickerNumber })}`}{' '}
            <span class="soft">{t('looked', { count: checks.length })}</span>
            {note !== undefined && <p>{note}</p>}
          </li>
        ))}
      </ul>
    </Panel>
  );
}

function Photos({
  photos,
  catalogue,
  office,
}: {
  photos: readonly PhotoView[];
  catalogue: Pick<Catalogue, 'items'>;
  office: OfficeContext;
}) {
  const labelOf = (key: string): string => catalogue.items.find((item) => item.key === key)?.label ?? key;
  return (
    <Panel title={t('photos')}>
      <ul class="plain photos">
        {photos.map(({ photoId, item, position, uploadedBy }) => {
          const name = [labelOf(item), position].filter((part) => part !== undefined).join(', ');
          return (
            <li key={photoId}>
              <Picture photoId={photoId} name={name} token={office.token} />
              <p class="soft">{t('photoOf', { name, by: uploadedBy.name })}</p>
            </li>
          );
        })}
      </ul>
    </Panel>
  );
}

/** A photo needs access, so it is fetched and shown from memory. */
function Picture({ photoId, name, token }: { photoId: string; name: string; token: string }) {
  const [address, setAddress] = useState<string>();
  const load = useLoad(`photo ${photoId}`, async (signal) => {
    return (await call(getPhoto, { params: { photoId } }, { token, signal })).body;
  });
  useEffect(() => {
    if (load.data === undefined) return undefined;
    const made = URL.createObjectURL(load.data);
    setAddress(made);
    return () => URL.revokeObjectURL(made);
  }, [load.data]);
  return address === undefined ? <p role="status">{t('photoLoading')}</p> : <img src={address} alt={name} />;
}

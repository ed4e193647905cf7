import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  getMail,
  listMails,
  type Mail as MailView,
  type MailSummary,
  orderMails,
  type OrderMailsInput,
  sendLink,
  sendMailAgain,
} from '../../api/operations.ts';
import { makeCards } from '../access/link-sheet.tsx';
import { useGroups } from '../entries/entry-fields.tsx';
import { CarLink } from '../overview/holds.tsx';
import { Area, Form, Input, Select } from '../parts/form.tsx';
import { dayAndTime, given, type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Loaded, Panel, Table, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { mailText, Templates } from './templates.tsx';

const { t } = mailText;
export { mailText as text };

/** Messages to entrants: what was written and what became of it, orders, texts. */
export function Mail({ office }: { office: OfficeContext }) {
  const [round, setRound] = useState(0);
  return (
    <>
      <Order office={office} onDone={() => setRound((count) => count + 1)} />
      <Log key={round} office={office} />
      <Templates office={office} />
    </>
  );
}

const KINDS = ['link', 'reminder', 'line-time', 'note'] as const;

function Order({ office, onDone }: { office: OfficeContext; onDone(): void }) {
  const groups = useGroups(office);
  const { values, set } = useValues({ kind: 'reminder', group: '', subject: '', text: '' });
  const [done, setDone] = useState('');
  const send = async (): Promise<void> => {
    setDone(
      values.kind === 'link' ? await sendLinks(office, values.group, groups.data ?? []) : await order(office, values),
    );
    onDone();
  };
  return (
    <Panel title={t('order')}>
      <Form label={t('order')} submit={t('order.send')} onSend={send}>
        <div class="fields">
          <Select
            label={t('order.kind')}
            value={values.kind}
            onValue={set('kind')}
            options={KINDS.map((one) => [one, t(`order.kind.${one}`)])}
          />
          <Select
            label={t('order.group')}
            value={values.group}
            onValue={set('group')}
            options={[
              ['', t('order.everybody')],
              ...(groups.data ?? []).map(({ runGroupId, name }) => [runGroupId, name] as const),
            ]}
          />
        </div>
        {values.kind === 'link' && <p class="notice look">{t('order.caution')}</p>}
        {values.kind === 'note' && (
          <>
            <Input label={t('order.subject')} pointer="/subject" value={values.subject} onValue={set('subject')} />
            <Area label={t('order.text')} pointer="/text" value={values.text} onValue={set('text')} />
          </>
        )}
      </Form>
      <p role="status">{done}</p>
    </Panel>
  );
}

async function order(
  { eventId, token }: OfficeContext,
  { kind, group, subject, text }: { kind: string; group: string; subject: string; text: string },
): Promise<string> {
  const note = kind === 'note' ? { subject: given(subject), text: given(text) } : {};
  const body = { kind, ...(group === '' ? {} : { runGroupId: group }), ...note } as OrderMailsInput;
  const answer = await call(orderMails, { params: { eventId }, body }, { token, timeoutMs: 120_000 });
  return t('order.done', { ...answer.body });
}

/** A link for each entry, made and sent one after the other; who has no address is counted. */
async function sendLinks(
  office: OfficeContext,
  group: string,
  groups: readonly { runGroupId: string }[],
): Promise<string> {
  const cards: { entryId: string; link: string }[] = [];
  for (const { runGroupId } of groups.filter((one) => group === '' || one.runGroupId === group)) {
    await makeCards(office, runGroupId, (card) => cards.push(card));
  }
  let done = 0;
  for (const { entryId, link } of cards) {
    const sent = call(sendLink, { params: { entryId }, body: { link } }, { token: office.token });
    // Who has no address is no reason to stop: the sheet of links in “Access” is for them.
    done += await sent.then(
      () => 1,
      () => 0,
    );
  }
  return t('order.links', { done, failed: cards.length - done });
}

const STATES = ['waiting', 'sent', 'kept', 'refused', 'failed', 'doubt'] as const;

function Log({ office }: { office: OfficeContext }) {
  const { eventId, token } = office;
  const [state, setState] = useState('');
  const [open, setOpen] = useState<MailView>();
  const [trouble, setTrouble] = useState<Trouble>();
  const load = useLoad(`mails ${eventId} ${state}`, async (signal) => {
    const query = state === '' ? {} : { state: state as (typeof STATES)[number] };
    return (await call(listMails, { params: { eventId }, query }, { token, signal })).body;
  });
  const act = (work: () => Promise<void>) => void work().catch((error: unknown) => setTrouble(troubleOf(error)));
  const read = (mailId: string) =>
    act(async () => setOpen((await call(getMail, { params: { mailId } }, { token })).body));
  const again = (mailId: string) =>
    act(async () => {
      await call(sendMailAgain, { params: { mailId } }, { token });
      say(t('state.waiting'));
      load.reload();
    });
  return (
    <Panel title={t('log')}>
      <Select
        label={t('log.filter')}
        value={state}
        onValue={setState}
        options={[['', t('log.all')], ...STATES.map((one) => [one, t(`state.${one}`)] as const)]}
      />
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <Loaded of={load}>
        {({ mode, mails }) => (
          <>
            <p class={`notice ${mode === 'send' ? 'good' : 'look'}`} data-mode={mode}>
              {t(`mode.${mode}`)}
            </p>
            {mails.length === 0 ? <p>{t('log.none')}</p> : <Rows {...{ mails, office, read, again }} />}
          </>
        )}
      </Loaded>
      {open !== undefined && <Letter mail={open} onClose={() => setOpen(undefined)} />}
    </Panel>
  );
}

interface RowsProps {
  mails: readonly MailSummary[];
  office: OfficeContext;
  read(mailId: string): void;
  again(mailId: string): void;
}

function Rows({ mails, office, read, again }: RowsProps) {
  const head = [t('log.when'), t('log.car'), t('log.kind'), t('log.to'), t('log.state'), t('log.read')];
  return (
    <Table caption={t('log.caption')} head={head}>
      {mails.map(({ mailId, entryId, carNumber, kind, address, state, reply, createdAt }) => (
        <tr key={mailId} data-mail={state}>
          <td>{dayAndTime(createdAt, office.timeZone)}</td>
          <th scope="row">
            <CarLink entryId={entryId} carNumber={carNumber} runGroup="" />
          </th>
          <td>{t(`kind.${kind}`)}</td>
          <td>{address}</td>
          <td>
            {t(`state.${state}`)} {reply !== '' && <span class="soft">{reply}</span>}
          </td>
          <td>
            <button type="button" onClick={() => read(mailId)}>
              {t('log.read')}
            </button>
            {(state === 'refused' || state === 'failed' || state === 'doubt') && (
              <button type="button" onClick={() => again(mailId)}>
                {t('log.again')}
              </button>
            )}
          </td>
        </tr>
      ))}
    </Table>
  );
}

function Letter({ mail, onClose }: { mail: MailView; onClose(): void }) {
  return (
    <article class="stack" data-letter>
      <h4>{mail.subject}</h4>
      <p class="soft">{mail.address}</p>
      <pre class="letter">{mail.text}</pre>
      <div class="row">
        <button type="button" onClick={onClose}>
          {t('log.close')}
        </button>
      </div>
    </article>
  );
}

import { useEffect, useRef, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { bindToken, listTokens, revokeToken, type TokenView } from '../../api/operations.ts';
import { words } from '../../shared/text.ts';
import { dayAndTime, type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Check } from '../parts/form.tsx';
import { Loaded, Panel, Table, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;

/** Everything that was given out, newest first, to be taken back. */
export function Tokens({ office, round }: { office: OfficeContext; round: number }) {
  const [all, setAll] = useState(false);
  const [trouble, setTrouble] = useState<Trouble>();
  const load = useLoad(`tokens ${round}`, () => readTokens(office.token));
  const act = async (send: () => Promise<unknown>, done: string): Promise<void> => {
    try {
      await send();
      setTrouble(undefined);
      say(done);
      load.reload();
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  const { token, eventId, event } = office;
  const revoke = ({ tokenId, holder }: TokenView): Promise<void> =>
    act(() => call(revokeToken, { params: { tokenId } }, { token }), t('tokens.done', { holder }));
  const bind = ({ tokenId, holder }: TokenView): Promise<void> => {
    const body = { eventIds: [eventId] };
    const done = t('tokens.bound', { holder, event: event.name });
    return act(() => call(bindToken, { params: { tokenId }, body }, { token }), done);
  };
  return (
    <Panel title={t('tokens.title')}>
      <Check label={t('tokens.all')} checked={all} onChecked={setAll} />
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <Loaded of={load}>
        {(tokens) => (
          <Both tokens={tokens.filter(({ state }) => all || state === 'live')} office={office} on={{ revoke, bind }} />
        )}
      </Loaded>
    </Panel>
  );
}

interface BothProps {
  tokens: readonly TokenView[];
  office: OfficeContext;
  on: { revoke(one: TokenView): Promise<void>; bind(one: TokenView): Promise<void> };
}

/** Staff in sight; entrants, of whom there are many, behind a summary. */
function Both({ tokens, office, on }: BothProps) {
  const entrants = tokens.filter(({ role }) => role === 'entrant');
  const rows = (list: readonly TokenView[]) =>
    list.map((one) => <Row key={one.tokenId} one={one} office={office} on={on} />);
  const unbound = tokens.filter((one) => one.unbound && one.state === 'live').length;
  const head = [
    t('holder'),
    t('role'),
    t('tokens.where'),
    t('tokens.state'),
    t('tokens.made'),
    t('tokens.ends'),
    t('tokens.action'),
  ];
  return (
    <>
      {unbound > 0 && <p class="notice look">{t('tokens.unboundNotice', { count: unbound })}</p>}
      <Table caption={t('tokens.staff')} head={head}>
        {rows(tokens.filter(({ role }) => role !== 'entrant'))}
      </Table>
      <details>
        <summary>{t('tokens.entrants', { count: entrants.length })}</summary>
        <Table caption={t('tokens.entrants', { count: entrants.length })} head={head}>
          {rows(entrants)}
        </Table>
      </details>
    </>
  );
}

function Row({ one, office, on }: { one: TokenView; office: OfficeContext; on: BothProps['on'] }) {
  const { holder, personId, role, state, createdAt, endsAt } = one;
  return (
    <tr data-state={state}>
      <th scope="row">
        {holder}
        {personId !== undefined && <span class="soft"> {personId}</span>}
      </th>
      <td>{t(`role.${role}`)}</td>
      <td>{whereOf(one)}</td>
      <td>{t(`tokens.${state}`)}</td>
      <td>{dayAndTime(createdAt, office.timeZone)}</td>
      <td>{endsAt === undefined ? t('tokens.noEnd') : dayAndTime(endsAt, office.timeZone)}</td>
      <td>
        {state === 'live' && one.unbound && (
          <Confirm
            label={t('tokens.bind')}
            question={t('tokens.bindQuestion', { holder, event: office.event.name })}
            onConfirm={() => void on.bind(one)}
          />
        )}
        {state === 'live' && (
          <Confirm
            label={t('tokens.revoke')}
            question={t('tokens.question', { holder })}
            onConfirm={() => void on.revoke(one)}
          />
        )}
      </td>
    </tr>
  );
}

/** At which events somebody has access; an entrant has it to one entry. */
function whereOf({ role, events, unbound }: TokenView): string {
  if (events !== undefined) return events.map(({ name }) => name).join(', ');
  if (role === 'entrant') return t('tokens.oneEntry');
  if (role === 'owner') return t('tokens.oneCar');
  if (role === 'shop') return t('tokens.shop');
  return t(unbound ? 'tokens.unbound' : 'tokens.everywhere');
}

async function readTokens(token: string): Promise<readonly TokenView[]> {
  const tokens: TokenView[] = [];
  let cursor: string | undefined;
  do {
    const query = { limit: 100, ...(cursor === undefined ? {} : { cursor }) };
    const { body } = await call(listTokens, { query }, { token });
    tokens.push(...body.tokens);
    cursor = body.next;
  } while (cursor !== undefined && tokens.length < 2000);
  return tokens.toReversed();
}

interface ConfirmProps {
  label: string;
  /** what will happen, asked back */
  question: string;
  onConfirm(): void;
}

/** A button that asks back in its place before it does what cannot be undone. */
function Confirm({ label, question, onConfirm }: ConfirmProps) {
  const [asking, setAsking] = useState(false);
  const yes = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    if (asking) yes.current?.focus();
  }, [asking]);
  if (!asking) {
    return (
      <button type="button" onClick={() => setAsking(true)}>
        {label}
      </button>
    );
  }
  return (
    <div class="row" role="group" aria-label={question}>
      <span>{question}</span>
      <button
        ref={yes}
        type="button"
        class="bad"
        onClick={() => {
          setAsking(false);
          onConfirm();
        }}
      >
        {label}
      </button>
      <button type="button" onClick={() => setAsking(false)}>
        {words.t('cancel')}
      </button>
    </div>
  );
}

import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { listTokens, revokeToken, type TokenView } from '../../api/operations.ts';
import { Confirm } from '../parts/confirm.tsx';
import type { Desk } from '../parts/desk.ts';
import { Check } from '../parts/field.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { say } from '../parts/say.ts';
import { Table } from '../parts/table.tsx';
import { dayAndTime } from '../parts/time.ts';
import { type Trouble, troubleOf } from '../parts/trouble.ts';
import { TroubleBox } from '../parts/trouble-box.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';

const { t } = text;

/** Everything that was given out, newest first, to be taken back. */
export function Tokens({ desk, round }: { desk: Desk; round: number }) {
  const [all, setAll] = useState(false);
  const [trouble, setTrouble] = useState<Trouble>();
  const load = useLoad(`tokens ${round}`, () => readTokens(desk.token));
  const revoke = async ({ tokenId, holder }: TokenView): Promise<void> => {
    try {
      await call(revokeToken, { params: { tokenId } }, { token: desk.token });
      setTrouble(undefined);
      say(t('tokens.done', { holder }));
      load.reload();
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  return (
    <Panel title={t('tokens.title')}>
      <Check label={t('tokens.all')} checked={all} onChecked={setAll} />
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <Loaded of={load}>
        {(tokens) => (
          <Both tokens={tokens.filter(({ state }) => all || state === 'live')} desk={desk} onRevoke={revoke} />
        )}
      </Loaded>
    </Panel>
  );
}

interface BothProps {
  tokens: readonly TokenView[];
  desk: Desk;
  onRevoke(one: TokenView): Promise<void>;
}

/** Staff in sight; entrants, of whom there are many, behind a summary. */
function Both({ tokens, desk, onRevoke }: BothProps) {
  const entrants = tokens.filter(({ role }) => role === 'entrant');
  const rows = (list: readonly TokenView[]) =>
    list.map((one) => <Row key={one.tokenId} one={one} desk={desk} onRevoke={() => void onRevoke(one)} />);
  const head = [t('holder'), t('role'), t('tokens.state'), t('tokens.made'), t('tokens.ends'), t('tokens.action')];
  return (
    <>
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

function Row({ one, desk, onRevoke }: { one: TokenView; desk: Desk; onRevoke(): void }) {
  const { holder, role, state, createdAt, expiresAt } = one;
  return (
    <tr data-state={state}>
      <th scope="row">{holder}</th>
      <td>{t(`role.${role}`)}</td>
      <td>{t(`tokens.${state}`)}</td>
      <td>{dayAndTime(createdAt, desk.timeZone)}</td>
      <td>{expiresAt === undefined ? t('tokens.noEnd') : dayAndTime(expiresAt, desk.timeZone)}</td>
      <td>
        {state === 'live' && (
          <Confirm label={t('tokens.revoke')} question={t('tokens.question', { holder })} onConfirm={onRevoke} />
        )}
      </td>
    </tr>
  );
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

import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { getRejudgement, rejudgeRunGroup, type RejudgementView, type RunGroupView } from '../../api/operations.ts';
import { CarLink } from '../overview/holds.tsx';
import type { Desk } from '../parts/desk.ts';
import { Input } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { Table } from '../parts/table.tsx';
import { text } from '../text.ts';
import { Progress } from './progress.tsx';
import { useTask } from './use-task.ts';

const { t } = text;

/** Judges the cars of a group by the rules it has now, because the organizer orders it. */
export function Rejudge({ group, desk }: { group: RunGroupView; desk: Desk }) {
  const [reason, setReason] = useState('');
  const [started, setStarted] = useState<string>();
  const { eventId, runGroupId, rulesHash } = group;
  if (rulesHash === null) return null;
  return (
    <Panel title={t('rejudge.title')}>
      <Form
        label={t('rejudge.title')}
        submit={t('rejudge.send')}
        onSend={async () => {
          const input = { params: { eventId, runGroupId }, body: { rulesHash, reason } };
          setStarted((await call(rejudgeRunGroup, input, { token: desk.token })).body.rejudgementId);
        }}
      >
        <p>{t('rejudge.how')}</p>
        <Input label={t('rejudge.reason')} pointer="/reason" value={reason} onValue={setReason} />
      </Form>
      {started !== undefined && <Result key={started} rejudgementId={started} desk={desk} />}
    </Panel>
  );
}

function Result({ rejudgementId, desk }: { rejudgementId: string; desk: Desk }) {
  const load = useTask<RejudgementView>(`rejudgement ${rejudgementId}`, async (signal) => {
    return (await call(getRejudgement, { params: { rejudgementId } }, { token: desk.token, signal })).body;
  });
  return (
    <Loaded of={load}>
      {(view) => (
        <>
          <Progress {...view} />
          <Table
            caption={t('rejudge.result')}
            head={[t('carNumber'), t('rejudge.outcome'), t('compare.before'), t('compare.after'), t('report.reason')]}
          >
            {view.entries.map((entry) => (
              <tr key={entry.entryId}>
                <th scope="row">
                  <CarLink entryId={entry.entryId} carNumber={entry.carNumber} runGroup="" />
                </th>
                <td>{t(`rejudge.${entry.outcome}`)}</td>
                <td>{entry.before === undefined ? '' : t(`verdict.${entry.before}`)}</td>
                <td>{entry.after === undefined ? '' : t(`verdict.${entry.after}`)}</td>
                <td>{entry.reason ?? ''}</td>
              </tr>
            ))}
          </Table>
        </>
      )}
    </Loaded>
  );
}

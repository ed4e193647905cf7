import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  type Audit,
  auditEvent,
  getReadiness,
  getServer,
  makeBackup,
  runJobAgain,
  type ServerView,
} from '../../api/operations.ts';
import { Fact } from '../overview/what-now.tsx';
import { dayAndTime, type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Form } from '../parts/form.tsx';
import { Loaded, Panel, Table, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { serviceText } from './text.ts';
import { Webhooks } from './webhooks.tsx';

const { t } = serviceText;

interface PartProps {
  server: ServerView;
  office: OfficeContext;
  reload(): void;
}

/** Whether the server is well: database and clock, who runs jobs, what failed, and the backups. */
export function Server({ office }: { office: OfficeContext }) {
  const load = useLoad('server', async (signal) => {
    const [ready, server] = await Promise.all([
      call(getReadiness, {}, { signal }),
      call(getServer, {}, { token: office.token, signal }),
    ]);
    return { ready: ready.body, server: server.body };
  });
  return (
    <Loaded of={load}>
      {({ ready: { clock, backup }, server }) => (
        <>
          <Panel title={t('health')}>
            <ul>
              <li data-health="database">{t('health.database')}</li>
              {clock !== undefined && <li>{t('health.clock', { ms: Math.round(clock.differenceMs) })}</li>}
              <li data-health="backup">{t(`health.backup.${backup ?? 'none'}`)}</li>
            </ul>
            <Jobs {...{ server, office }} reload={load.reload} />
          </Panel>
          <Backups {...{ server, office }} reload={load.reload} />
        </>
      )}
    </Loaded>
  );
}

function Jobs({ server, office, reload }: PartProps) {
  const { workers, queue, failedJobs, asOf } = server;
  const time = dayAndTime(asOf, office.timeZone);
  return (
    <>
      <p class={`notice ${queue.state === 'working' ? 'good' : 'bad'}`} data-queue={queue.state}>
        {t(`queue.${queue.state}`)} {t('queue.asOf', { time })}
      </p>
      <dl class="facts">
        <Fact name={t('queue.workers')} value={workers.length} />
        <Fact name={t('queue.waiting')} value={queue.waiting} />
        <Fact name={t('queue.unfinished')} value={queue.unfinished} />
        <Fact name={t('queue.failed')} value={queue.failed} />
      </dl>
      <div class="row">
        <button type="button" onClick={reload}>
          {t('queue.look')}
        </button>
      </div>
      {failedJobs.length > 0 && <FailedJobs {...{ server, office, reload }} />}
    </>
  );
}

/** What a job does in words; one that this page does not know stays as the server names it. */
const JOBS = [
  'inspection.notify',
  'sign-off.notify',
  'entrant.tell',
  'mail.write',
  'mail.send',
  'claim.expire',
  'condition.fall-due',
  'clearance.expire',
  'event.days-changed',
  'run-group.timetable-moved',
  'run-group.rejudge',
  'rule-set.trial',
  'entries.import',
  'webhook.fan-out',
  'webhook.deliver',
  'backup.make',
] as const;

function jobInWords(name: string): string {
  const known = JOBS.find((one) => one === name);
  return known === undefined ? name : t(`job.${known}`);
}

function FailedJobs({ server, office, reload }: PartProps) {
  const [trouble, setTrouble] = useState<Trouble>();
  const again = async (jobId: string, name: string): Promise<void> => {
    try {
      await call(runJobAgain, { params: { jobId } }, { token: office.token });
      setTrouble(undefined);
      say(t('jobs.again', { name: jobInWords(name) }));
    } catch (error) {
      setTrouble(troubleOf(error));
    }
    reload();
  };
  return (
    <>
      <p>{t('jobs.why')}</p>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <Table caption={t('jobs')} head={[t('what'), t('when'), t('jobs.reason'), t('act')]}>
        {server.failedJobs.map(({ jobId, name, failedAt, reason }) => (
          <tr key={jobId} data-job={name}>
            <th scope="row">{jobInWords(name)}</th>
            <td>{dayAndTime(failedAt, office.timeZone)}</td>
            <td class="words">{reason}</td>
            <td>
              <button type="button" onClick={() => void again(jobId, name)}>
                {t('tryAgain')}
              </button>
            </td>
          </tr>
        ))}
      </Table>
    </>
  );
}

function Backups({ server, office, reload }: PartProps) {
  const { place, everyHours, keep, making, newest } = server.backups;
  const send = async (): Promise<void> => {
    await call(makeBackup, {}, { token: office.token });
    say(t('backups.ordered'));
    reload();
  };
  return (
    <Panel title={t('backups')}>
      {place === null ? (
        <p class="notice look" data-backups="off">
          {t('backups.off')}
        </p>
      ) : (
        <Form label={t('backups')} submit={t('backups.make')} disabled={making} onSend={send}>
          <p>
            {everyHours === 0 ? t('backups.byHand', { place, keep }) : t('backups.every', { place, keep, everyHours })}
          </p>
          {making && (
            <p class="notice" data-backups="making">
              {t('backups.making')}
            </p>
          )}
        </Form>
      )}
      {newest.length > 0 && (
        <Table
          caption={t('backups.newest')}
          head={[t('when'), t('backups.name'), t('backups.size'), t('backups.found')]}
        >
          {newest.map(({ name, startedAt, bytes, verified, error, removedAt, finishedAt }) => (
            <tr key={name} data-backup={foundOf({ verified, error, finishedAt })}>
              <th scope="row">{dayAndTime(startedAt, office.timeZone)}</th>
              <td class="words">{name}</td>
              <td class="number">{bytes === null ? '' : t('backups.mb', { mb: (bytes / 1e6).toFixed(1) })}</td>
              <td>
                {t(`backups.${foundOf({ verified, error, finishedAt })}`)} {error}
                {removedAt !== null && ` ${t('backups.removed')}`}
              </td>
            </tr>
          ))}
        </Table>
      )}
    </Panel>
  );
}

type Found = 'bad' | 'restored' | 'read' | 'cutOff' | 'unproved';

/** How good a backup is; one of which nothing is known is none. */
function foundOf(of: { verified: string | null; error: string | null; finishedAt: string | null }): Found {
  if (of.error !== null) return 'bad';
  if (of.finishedAt === null) return 'cutOff';
  if (of.verified === 'restored') return 'restored';
  return of.verified === 'read' ? 'read' : 'unproved';
}

export { serviceText as text };

/** What runs behind an event: the server, the history that can be checked, and who is told by webhooks. */
export function Service({ office }: { office: OfficeContext }) {
  return (
    <>
      <Server office={office} />
      <AuditCheck office={office} />
      <Webhooks office={office} />
    </>
  );
}

/** Reads the whole history of the event and holds it against its seal. */
function AuditCheck({ office }: { office: OfficeContext }) {
  const [found, setFound] = useState<Audit>();
  const send = async (): Promise<void> => {
    const input = { params: { eventId: office.eventId }, query: {} };
    setFound((await call(auditEvent, input, { token: office.token, timeoutMs: 120_000 })).body);
  };
  return (
    <Panel title={t('audit')}>
      <Form label={t('audit')} submit={t('audit.check')} onSend={send}>
        <p>{t('audit.why')}</p>
      </Form>
      {found !== undefined && (
        <div class={`notice stack ${found.intact ? 'good' : 'bad'}`} data-intact={found.intact} role="status">
          <p>{t(found.intact ? 'audit.intact' : 'audit.broken', { rows: found.rows, entries: found.entries })}</p>
          <p>
            {t('audit.head', { seq: found.head.seq })} <code class="key">{found.head.hash}</code>
          </p>
        </div>
      )}
    </Panel>
  );
}

import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  type EventView,
  getTrial,
  listEvents,
  listTrials,
  startTrial,
  type Trial,
  type TrialList,
} from '../../api/operations.ts';
import { dayAndTime, given, type Load, type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Check, Form, Input } from '../parts/form.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';
import { Comparison } from './comparison.tsx';

const ASK_MS = 1000;

interface Task {
  state: 'waiting' | 'running' | 'done' | 'failed';
}

/** Follows work of the server until it is over. */
export function useTask<T extends Task>(key: string, read: (signal: AbortSignal) => Promise<T>): Load<T> {
  const load = useLoad(key, read);
  const open = load.data === undefined || load.data.state === 'waiting' || load.data.state === 'running';
  useEffect(() => {
    if (!open) return undefined;
    const timer = setTimeout(load.reload, ASK_MS);
    return () => clearTimeout(timer);
  }, [open, load.at, load.trouble]);
  return load;
}

const MOST = 50;

/** The newest events, as many as a trial can take. */
function useEvents(token: string): Load<readonly EventView[]> {
  return useLoad('events of a trial', async (signal) => {
    const { body } = await call(listEvents, { query: { limit: MOST } }, { token, signal });
    return body.events;
  });
}

const { t } = text;

interface TrialsProps {
  ruleSetId: string;
  office: OfficeContext;
  round: number;
}

/** The draft, or a version, tried on the declarations of events: nobody is judged by it. */
export function Trials({ ruleSetId, office, round }: TrialsProps) {
  const [shown, setShown] = useState<string>();
  const load = useLoad<TrialList['trials']>(`trials ${ruleSetId} ${round}`, async (signal) => {
    const { body } = await call(listTrials, { params: { ruleSetId }, query: {} }, { token: office.token, signal });
    return body.trials;
  });
  const started = (trialId: string): void => {
    setShown(trialId);
    load.reload();
  };
  return (
    <Panel title={t('trial.title')}>
      <p>{t('trial.how')}</p>
      <Start {...{ ruleSetId, office, started }} />
      {shown !== undefined && <TrialView key={shown} trialId={shown} office={office} />}
      <Loaded of={load}>
        {(trials) => (
          <ul class="plain">
            {trials.map(({ trialId, requestedAt, requestedBy, state }) => (
              <li key={trialId}>
                <button type="button" aria-pressed={trialId === shown} onClick={() => setShown(trialId)}>
                  {t('trial.of', { time: dayAndTime(requestedAt, office.timeZone), who: requestedBy })}:{' '}
                  {t(`task.${state}`)}
                </button>
              </li>
            ))}
          </ul>
        )}
      </Loaded>
    </Panel>
  );
}

function Start({ ruleSetId, office, started }: Omit<TrialsProps, 'round'> & { started(trialId: string): void }) {
  const events = useEvents(office.token);
  const [chosen, setChosen] = useState<readonly string[]>([office.eventId]);
  const [version, setVersion] = useState('');
  const send = async (): Promise<void> => {
    const number = given(version);
    const body = { eventIds: chosen, ...(number === undefined ? {} : { version: Number(number) }) };
    const { body: trial } = await call(startTrial, { params: { ruleSetId }, body }, { token: office.token });
    started(trial.trialId);
  };
  return (
    <Form label={t('trial.start')} submit={t('trial.start')} onSend={send}>
      <fieldset class="stack">
        <legend>{t('trial.events')}</legend>
        <Loaded of={events}>
          {(list) =>
            list.map(({ eventId, name }) => (
              <Check
                key={eventId}
                label={name}
                checked={chosen.includes(eventId)}
                onChecked={(checked) =>
                  setChosen((old) => (checked ? [...old, eventId] : old.filter((one) => one !== eventId)))
                }
              />
            ))
          }
        </Loaded>
      </fieldset>
      <Input
        label={t('trial.version')}
        hint={t('trial.versionHint')}
        inputMode="numeric"
        pointer="/version"
        value={version}
        onValue={setVersion}
      />
    </Form>
  );
}

/** One trial: how far it is, then what it found. */
function TrialView({ trialId, office }: { trialId: string; office: OfficeContext }) {
  const load = useTask<Trial>(`trial ${trialId}`, async (signal) => {
    return (await call(getTrial, { params: { trialId } }, { token: office.token, signal })).body;
  });
  return (
    <div class="stack" data-trial={trialId}>
      <Loaded of={load}>
        {(trial) => (
          <>
            <h4>
              {trial.tried.version === undefined
                ? t('trial.draft')
                : t('rules.version', { version: trial.tried.version })}
            </h4>
            <Progress {...trial} />
            {trial.result !== undefined && (
              <>
                <Comparison result={trial.result} />
                <NotApplied list={trial.result.notApplied} />
              </>
            )}
          </>
        )}
      </Loaded>
    </div>
  );
}

function NotApplied({ list }: { list: NonNullable<Trial['result']>['notApplied'] }) {
  if (list.length === 0) return null;
  return (
    <details>
      <summary>{t('trial.notApplied', { count: list.length })}</summary>
      <ul>
        {list.map(({ runGroup, from, pointer, detail }, index) => (
          <li key={index}>
            {runGroup}, {t(`origin.${from}`)}: <code>{pointer}</code> {detail}
          </li>
        ))}
      </ul>
    </details>
  );
}

interface ProgressProps {
  state: 'waiting' | 'running' | 'done' | 'failed';
  done: number;
  total: number | null;
  error?: string;
}

/** How far work of the server is. */
export function Progress({ state, done, total, error }: ProgressProps) {
  return (
    <>
      <p role="status" data-state={state}>
        {t(`task.${state}`)} {total !== null && t('task.of', { done, all: total })}
      </p>
      {state === 'running' && total !== null && (
        <progress value={done} max={Math.max(1, total)} aria-label={t('task.running')} />
      )}
      {error !== undefined && (
        <p class="notice bad" role="alert">
          {error}
        </p>
      )}
    </>
  );
}

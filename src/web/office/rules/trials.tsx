import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { listTrials, startTrial, type TrialList } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Check, Input } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { useLoad } from '../parts/use-load.ts';
import { given } from '../parts/use-values.ts';
import { text } from '../text.ts';
import { TrialView } from './trial-view.tsx';
import { useEvents } from './use-events.ts';

const { t } = text;

interface TrialsProps {
  ruleSetId: string;
  desk: Desk;
  round: number;
}

/** The draft, or a version, tried on the declarations of events: nobody is judged by it. */
export function Trials({ ruleSetId, desk, round }: TrialsProps) {
  const [shown, setShown] = useState<string>();
  const load = useLoad<TrialList['trials']>(`trials ${ruleSetId} ${round}`, async (signal) => {
    const { body } = await call(listTrials, { params: { ruleSetId }, query: {} }, { token: desk.token, signal });
    return body.trials;
  });
  const started = (trialId: string): void => {
    setShown(trialId);
    load.reload();
  };
  return (
    <Panel title={t('trial.title')}>
      <p>{t('trial.how')}</p>
      <Start {...{ ruleSetId, desk, started }} />
      {shown !== undefined && <TrialView key={shown} trialId={shown} desk={desk} />}
      <Loaded of={load}>
        {(trials) => (
          <ul class="plain">
            {trials.map(({ trialId, requestedAt, requestedBy, state }) => (
              <li key={trialId}>
                <button type="button" aria-pressed={trialId === shown} onClick={() => setShown(trialId)}>
                  {t('trial.of', { time: dayAndTime(requestedAt, desk.timeZone), who: requestedBy })}:{' '}
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

function Start({ ruleSetId, desk, started }: Omit<TrialsProps, 'round'> & { started(trialId: string): void }) {
  const events = useEvents(desk.token);
  const [chosen, setChosen] = useState<readonly string[]>([desk.eventId]);
  const [version, setVersion] = useState('');
  const send = async (): Promise<void> => {
    const number = given(version);
    const body = { eventIds: chosen, ...(number === undefined ? {} : { version: Number(number) }) };
    const { body: trial } = await call(startTrial, { params: { ruleSetId }, body }, { token: desk.token });
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

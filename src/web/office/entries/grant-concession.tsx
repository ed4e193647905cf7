import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EntryView, grantConcession } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Area, Check, Input, Select } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { say } from '../parts/say.ts';
import { fromWallClock, toWallClock } from '../parts/time.ts';
import { faultsAt, type Trouble } from '../parts/trouble.ts';
import { useLoad } from '../parts/use-load.ts';
import { given, useValues } from '../parts/use-values.ts';
import { text } from '../text.ts';
import { type Choice, readChoices } from './read-choices.ts';

const { t } = text;

interface GrantProps {
  entry: EntryView;
  desk: Desk;
  onDone(): void;
  onCancel(): void;
}

/** The chief's exception to one rule: first those that this car does not meet. */
export function GrantConcession(props: GrantProps) {
  const { entry, desk } = props;
  const load = useLoad(`choices ${entry.entryId}`, (signal) => readChoices(desk, entry, signal));
  return <Loaded of={load}>{(choices) => <Fields {...props} choices={choices} />}</Loaded>;
}

function Fields({ entry, desk, onDone, onCancel, choices }: GrantProps & { choices: readonly Choice[] }) {
  const { timeZone, token, event } = desk;
  const { values, set } = useValues({
    ruleId: choices[0]?.ruleId ?? '',
    reason: '',
    condition: '',
    expiresAt: `${event.endsOn}T18:00`,
  });
  const [later, setLater] = useState(false);
  const [trouble, setTrouble] = useState<Trouble>();
  const send = async (): Promise<void> => {
    const condition = given(values.condition);
    const body = {
      ruleId: values.ruleId,
      reason: values.reason,
      expiresAt: fromWallClock(values.expiresAt, timeZone),
      ...(condition === undefined ? {} : { condition }),
      ...(later ? { coversLaterVersions: true } : {}),
    };
    const { body: granted } = await call(grantConcession, { params: { entryId: entry.entryId }, body }, { token });
    say(t(granted.state === 'awaiting-approval' ? 'concession.nowWaits' : 'concession.nowInForce'));
    onDone();
  };
  return (
    <Form
      label={t('concession.grant')}
      submit={t('concession.grant')}
      onSend={send}
      onCancel={onCancel}
      onTrouble={setTrouble}
    >
      <Select
        label={t('concession.rule')}
        pointer="/ruleId"
        value={values.ruleId}
        onValue={set('ruleId')}
        options={choices.map(({ ruleId, title, wrong }) => [ruleId, wrong ? t('concession.notMet', { title }) : title])}
      />
      <Area label={t('concession.reason')} pointer="/reason" value={values.reason} onValue={set('reason')} />
      <Input
        label={t('concession.condition')}
        hint={t('concession.conditionHint')}
        pointer="/condition"
        value={values.condition}
        onValue={set('condition')}
      />
      <Input
        type="datetime-local"
        label={t('concession.expires')}
        hint={t('venueTime', { zone: timeZone })}
        pointer="/expiresAt"
        value={values.expiresAt}
        onValue={set('expiresAt')}
      />
      <Latest trouble={trouble} timeZone={timeZone} onTake={set('expiresAt')} />
      <Check label={t('concession.later')} checked={later} onChecked={setLater} />
    </Form>
  );
}

/** The latest end that the server allows, to be taken over when a later one was asked for. */
function Latest({
  trouble,
  timeZone,
  onTake,
}: {
  trouble: Trouble | undefined;
  timeZone: string;
  onTake(value: string): void;
}) {
  const latest = faultsAt(trouble, '/expiresAt').find(({ latestEnd }) => latestEnd !== undefined)?.latestEnd;
  if (latest === undefined) return null;
  const clock = toWallClock(latest, timeZone);
  return (
    <div class="row">
      <button type="button" onClick={() => onTake(clock)}>
        {t('concession.takeLatest', { time: clock.replace('T', ' ') })}
      </button>
    </div>
  );
}

import { useSignal } from '@preact/signals';
import { call } from '../../api/call.ts';
import { type GateAnswer, lookUpCar } from '../../api/operations.ts';
import { Also } from '../also.tsx';
import { ByNumber } from '../by-number.tsx';
import { ask, type Desk } from '../state/desk.ts';
import { text } from '../text.ts';
import { whyNot } from '../why-not.ts';
import { HoldForm } from './hold-form.tsx';

const { t } = text;

/** Any car of the event by its number: what the gate says, its history, and a hold. */
export function HoldPage({ desk }: { desk: Desk }) {
  const answer = useSignal<GateAnswer | undefined>(undefined);
  const why = useSignal<string | undefined>(undefined);
  // A number that nobody could be asked about: it can be stopped all the same.
  const alone = useSignal<string | undefined>(undefined);
  const find = async (carNumber: string) => {
    const params = { eventId: desk.event.eventId, carNumber };
    const done = await ask(desk, () => call(lookUpCar, { params, query: {} }, { token: desk.session.token }));
    why.value = done.ok ? undefined : whyNot(done.why);
    alone.value = !done.ok && done.why.kind === 'offline' ? carNumber : undefined;
    answer.value = done.ok && done.value.status === 200 ? done.value.body : undefined;
  };
  return (
    <section class="stack" aria-labelledby="hold-heading">
      <h2 id="hold-heading">{t('hold.heading')}</h2>
      <p>{t('hold.meaning')}</p>
      <ByNumber
        id="hold-number"
        action={t('hold.find')}
        message={why}
        onNumber={(carNumber) => {
          void find(carNumber);
        }}
      />
      {answer.value?.entries.length === 0 && (
        <p class="notice look" role="alert">
          {t('hold.unknown', { number: answer.value.carNumber, similar: answer.value.similar.join(', ') || '–' })}
        </p>
      )}
      {answer.value !== undefined && <Also number={answer.value.carNumber} cars={answer.value.lookAlikes} />}
      {answer.value?.entries.map((entry) => (
        <HoldForm
          key={entry.entryId}
          desk={desk}
          carNumber={entry.carNumber}
          entry={entry}
          onChanged={() => find(entry.carNumber)}
        />
      ))}
      {alone.value !== undefined && (
        <HoldForm key={alone.value} desk={desk} carNumber={alone.value} onChanged={() => find(alone.value ?? '')} />
      )}
    </section>
  );
}

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { conditionIn } from '../../../domain/log/condition-words.ts';
import { call } from '../../api/call.ts';
import { completeCondition, type GateList, listGate } from '../../api/operations.ts';
import { reasonText } from '../../shared/times.ts';
import { currentLanguage, words } from '../../shared/text.ts';
import { dayAndTime } from '../format.ts';
import { ask, say, type Station } from '../state/station.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';

const { t } = text;

/** Cars that were accepted with conditions that are still open. */
export function OpenConditions({ station }: { station: Station }) {
  const entries = useSignal<GateList['entries'] | undefined>(undefined);
  const why = useSignal<string | undefined>(undefined);
  const { token } = station.session;
  const load = async () => {
    const { eventId } = station.event;
    const done = await ask(station, () => call(listGate, { params: { eventId }, headers: {} }, { token }));
    if (!done.ok) why.value = whyNot(done.why);
    else if (done.value.status === 200) entries.value = done.value.body.entries;
  };
  useEffect(() => void load(), [station]);
  const complete = async (entryId: string, conditionId: string, note: string) => {
    const body = note === '' ? {} : { note };
    const done = await ask(station, () =>
      call(completeCondition, { params: { entryId, conditionId }, body }, { token }),
    );
    why.value = done.ok ? undefined : whyNot(done.why);
    if (done.ok)
      say(t('open.done.said', { reason: reasonText(done.value.body.clearance.reason, station.event.timeZone) }));
    await load();
  };
  const open = entries.value?.filter((entry) => entry.conditions.length > 0);
  return (
    <section class="stack" aria-labelledby="open-heading">
      <h2 id="open-heading" tabIndex={-1}>
        {t('open.heading')}
      </h2>
      <p role="alert" class={why.value === undefined ? '' : 'notice look'}>
        {why.value}
      </p>
      {open === undefined && why.value === undefined && <p role="status">{words.t('loading')}</p>}
      {open?.length === 0 && <p>{t('open.none')}</p>}
      {open?.map(({ entryId, carNumber, runGroup, vehicle, conditions, reason }) => (
        <section key={entryId} class="panel stack" aria-label={`${carNumber}, ${runGroup}`}>
          <p>
            <strong class="car-number number">{carNumber}</strong> {vehicle} · {runGroup}
          </p>
          <p>
            {t('outcome.gate')} <strong>{reason}</strong>
          </p>
          {conditions.map(({ id, text: asked, dueAt }) => (
            <OpenCondition
              key={id}
              id={id}
              asked={conditionIn(asked, currentLanguage())}
              due={
                dueAt === undefined
                  ? undefined
                  : t('conditions.by', { time: dayAndTime(dueAt, station.event.timeZone) })
              }
              number={carNumber}
              onDone={(note) => complete(entryId, id, note)}
            />
          ))}
        </section>
      ))}
    </section>
  );
}

interface Props {
  id: string;
  asked: string;
  due: string | undefined;
  number: string;
  onDone(note: string): Promise<void>;
}

/** One open condition, with what was found when it is done. */
function OpenCondition({ id, asked, due, number, onDone }: Props) {
  const note = useSignal('');
  const busy = useSignal(false);
  const done = async () => {
    if (busy.value) return;
    busy.value = true;
    await onDone(note.value.trim());
    busy.value = false;
  };
  return (
    <div class="stack condition">
      <p>
        <strong>{asked}</strong> {due}
      </p>
      <div>
        <label for={`done-${id}`}>{t('open.note')}</label>
        <input
          id={`done-${id}`}
          maxLength={500}
          value={note.value}
          onInput={(event) => {
            note.value = event.currentTarget.value;
          }}
        />
      </div>
      <button
        type="button"
        class="glove"
        aria-label={t('open.done.for', { number, condition: asked })}
        aria-disabled={busy.value}
        onClick={() => void done()}
      >
        {t('open.done')}
      </button>
    </div>
  );
}

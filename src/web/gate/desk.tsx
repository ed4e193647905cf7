import { useEffect, useMemo } from 'preact/hooks';
import { AnswerView } from './answer-view.tsx';
import { Foot } from './foot.tsx';
import type { Gate } from './gate.ts';
import { Twins } from './look-alikes.tsx';
import { NumberView } from './number-view.tsx';
import { Pad } from './pad.tsx';
import { Strip } from './strip.tsx';
import { text } from './text.ts';
import { lettersIn, typed } from './typed-number.ts';
import { useKeys } from './use-keys.ts';
import { useQuestion } from './use-question.ts';

const { t } = text;

/** The gate at work: a number is typed and asked for; the answer stays until the next one is typed. */
export function Desk({ gate, otherEvent }: { gate: Gate; otherEvent(): void }) {
  const { number, setNumber, asking, answer, twins, ask, stop, clear } = useQuestion(gate);
  const snapshot = gate.list.value?.snapshot;
  const letters = useMemo(() => lettersIn(snapshot?.entries.map((entry) => entry.carNumber) ?? []), [snapshot]);
  useEffect(() => gate.run(), [gate]);

  const type = (character: string) => {
    const begins = answer !== undefined || asking || twins.length > 0;
    if (begins) clear();
    setNumber((before) => typed(begins ? '' : before, character, letters));
  };
  const typing = answer === undefined && twins.length === 0;
  const remove = () => (typing ? setNumber((before) => before.slice(0, -1)) : clear());
  const confirm = () => (typing ? ask(number) : clear());
  useKeys({ type, remove, confirm, clear });

  return (
    <div class="gate">
      <div class={`screen ${answer === undefined ? '' : 'answered'}`}>
        <header>
          <h1 class="unseen">{t('title')}</h1>
          <Strip gate={gate} />
        </header>
        <main id="content">
          {twins.length > 0 && <Twins cars={twins} choose={(carNumber) => ask(carNumber, undefined, true)} />}
          {answer === undefined && twins.length === 0 && (
            <div class="entry">
              <NumberBox number={number} asking={asking} />
              <Pad letters={letters} type={type} remove={remove} ask={() => ask(number)} empty={number === ''} />
            </div>
          )}
          {answer !== undefined && (
            <AnswerView
              answer={answer}
              timeZone={gate.event.timeZone}
              isTold={gate.stops.value.every(({ key }) => key !== answer.stop?.key)}
              ask={(carNumber, runGroupId) => ask(carNumber, runGroupId, carNumber === answer.carNumber)}
              stop={stop}
              next={clear}
            />
          )}
        </main>
      </div>
      <Foot event={gate.event.name} ended={gate.contact.value === 'no-access'} otherEvent={otherEvent} />
    </div>
  );
}

function NumberBox({ number, asking }: { number: string; asking: boolean }) {
  return (
    <div class="number-box" role="status" aria-label={t('number')} aria-busy={asking}>
      {number === '' ? <span class="hint">{t('number')}</span> : <NumberView number={number} />}
      <span class="asking">{asking && t('asking')}</span>
    </div>
  );
}

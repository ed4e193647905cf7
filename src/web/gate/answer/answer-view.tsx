import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { KINDS as STOP_KINDS, type StopOrder } from '../../shared/stops.ts';
import { AnswerDetails, Shape } from './answer-details.tsx';
import type { Answer } from './answer.ts';
import { text } from '../text.ts';

const { t } = text;

interface AnswerViewProps {
  answer: Answer;
  timeZone: string;
  /** asks again: for one run group, or for a number that was meant */
  ask(carNumber: string, runGroupId?: string): void;
  /** where the car was stopped on this device: whether the server knows by now */
  isSent: boolean;
  stop(hold: StopOrder['hold']): void;
  next(): void;
}

/** The answer over the whole screen: word, shape, colour and place, each of which says it alone. */
export function AnswerView({ answer, timeZone, ask, isSent, stop, next }: AnswerViewProps) {
  const [stopping, setStopping] = useState(false);
  const heading = useRef<HTMLHeadingElement>(null);
  const word = t(`kind.${answer.kind}`);
  useEffect(() => {
    heading.current?.focus({ preventScroll: true });
    // What cannot vibrate does nothing.
    navigator.vibrate?.([...BEATS[answer.kind]]);
  }, [answer]);
  return (
    <section class={`answer ${answer.kind}`} data-kind={answer.kind} data-status={answer.status}>
      <div class="verdict">
        <div class="shown" aria-hidden="true">
          <Shape kind={answer.kind} />
          <div class="asked">
            <NumberView number={answer.carNumber} />
          </div>
        </div>
        <h2 ref={heading} tabIndex={-1} class={`word ${word.length <= SHORT ? 'short' : ''}`}>
          {word}
          <span class="unseen">
            {' '}
            {t('number.said', { number: [...answer.carNumber].join(' ') })} {t(`status.${answer.status}`)}
          </span>
        </h2>
      </div>
      {stopping ? (
        <StopChoice
          number={answer.carNumber}
          choose={(hold) => {
            setStopping(false);
            stop(hold);
          }}
          back={() => setStopping(false)}
        />
      ) : (
        // Long reasons scroll in here: the verdict never leaves the screen.
        <div class="told" role="region" aria-label={t('details')} tabIndex={0}>
          {answer.stop !== undefined && <p class="untold">{isSent ? t('stop.told') : t('stop.untold')}</p>}
          <AnswerDetails answer={answer} timeZone={timeZone} ask={ask} />
        </div>
      )}
      {!stopping && (
        <div class="bar">
          {answer.kind !== 'not-listed' && answer.stop === undefined && (
            <button type="button" class="stop-car" onClick={() => setStopping(true)}>
              {t('stop.open')}
            </button>
          )}
          <button type="button" class="next" onClick={next}>
            {t('next')}
          </button>
        </div>
      )}
    </section>
  );
}

interface StopChoiceProps {
  number: string;
  choose(hold: StopOrder['hold']): void;
  back(): void;
}

/** Why a car is stopped, a key each: with the one tap that chooses it the car is held. */
function StopChoice({ number, choose, back }: StopChoiceProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus({ preventScroll: true }), []);
  return (
    <div class="stop-choice">
      <h3 ref={heading} tabIndex={-1}>
        {t('stop.why', { number })}
      </h3>
      {STOP_KINDS.map((kind) => (
        <button
          key={kind}
          type="button"
          class="choice kind"
          onClick={() => choose({ kind, reason: t('stop.reason', { why: t(`stop.${kind}`) }) })}
        >
          {t(`stop.${kind}`)}
        </button>
      ))}
      <button type="button" class="choice" onClick={back}>
        {t('stop.back')}
      </button>
    </div>
  );
}

/** Words that are drawn twice as large. */
const SHORT = 6;

/** Milliseconds on, off, on …: to be felt through a pocket or a glove. */
const BEATS: Readonly<Record<Answer['kind'], readonly number[]>> = {
  go: [80],
  conditions: [80, 80, 80],
  stop: [500, 120, 500],
  'not-listed': [200, 100, 200, 100, 200],
  'cannot-tell': [60, 60, 60, 60, 60, 60, 60, 60, 60],
};

/** A car number as high as its box; four characters are drawn narrower rather than lower. */
export function NumberView({ number }: { number: string }) {
  const box = useRef<HTMLSpanElement>(null);
  const inner = useRef<HTMLSpanElement>(null);
  useLayoutEffect(() => {
    const fit = () => {
      if (box.current === null || inner.current === null) return;
      const room = box.current.clientWidth / Math.max(1, inner.current.scrollWidth);
      inner.current.style.transform = room < 1 ? `scaleX(${room})` : '';
    };
    fit();
    addEventListener('resize', fit);
    return () => removeEventListener('resize', fit);
  }, [number]);
  return (
    <span class="big-number" ref={box}>
      <span class="digits number" ref={inner}>
        {[...number].map((character, place) => (
          // A number has no other order than its own.
          <span key={place} class={character === '0' ? 'zero' : undefined}>
            {character}
          </span>
        ))}
      </span>
    </span>
  );
}

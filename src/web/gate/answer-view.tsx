import { useEffect, useRef } from 'preact/hooks';
import type { Answer } from './answer.ts';
import { AnswerDetails } from './answer-details.tsx';
import { NumberView } from './number-view.tsx';
import { Shape } from './shape.tsx';
import { text } from './text.ts';

const { t } = text;

interface AnswerViewProps {
  answer: Answer;
  timeZone: string;
  /** asks again: for one run group, or for a number that was meant */
  ask(carNumber: string, runGroupId?: string): void;
  next(): void;
}

/** The answer over the whole screen: word, shape, colour and place, each of which says it alone. */
export function AnswerView({ answer, timeZone, ask, next }: AnswerViewProps) {
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
      {/* Long reasons scroll in here: the verdict never leaves the screen. */}
      <div class="told" role="region" aria-label={t('details')} tabIndex={0}>
        <AnswerDetails answer={answer} timeZone={timeZone} ask={ask} />
      </div>
      <button type="button" class="next" onClick={next}>
        {t('next')}
      </button>
    </section>
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

import type { ClearanceView } from '../../api/operations.ts';
import { text } from '../text.ts';

export type Status = ClearanceView['status'];

export const STATUSES: readonly Status[] = [
  'clear',
  'clear-with-conditions',
  'in-line',
  'no-declaration',
  'barred',
  'refused',
  'held',
  'expired',
  'withdrawn',
  'cancelled',
];

/** A shape per meaning, so that colour is never the only sign: may go, waits, may not. */
const SIGNS: Record<Status, readonly [sign: string, tone: string]> = {
  clear: ['✔', 'good'],
  'clear-with-conditions': ['✔!', 'good'],
  'in-line': ['…', 'look'],
  'no-declaration': ['○', 'look'],
  barred: ['✖', 'bad'],
  refused: ['✖', 'bad'],
  held: ['■', 'bad'],
  expired: ['◷', 'bad'],
  withdrawn: ['–', 'none'],
  cancelled: ['✖', 'bad'],
};

export const toneOf = (status: Status): string => SIGNS[status][1];

export function StatusMark({ status }: { status: Status }) {
  const [sign, tone] = SIGNS[status];
  return (
    <span class={`status ${tone}`}>
      <span class="sign" aria-hidden="true">
        {sign}
      </span>
      {text.t(`status.${status}`)}
    </span>
  );
}

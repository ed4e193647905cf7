import type { CountdownView } from '../../api/operations.ts';
import { showQuantity } from '../../shared/units.ts';
import { currentLanguage } from '../../shared/text.ts';
import { cornerName, dateText, inChosen, timeText } from '../verdict/say.ts';
import { durationText } from '../verdict/fix-steps.tsx';
import { text as after } from '../verdict/text.ts';
import { own } from './text.ts';

const { t } = own;
type Key = Parameters<typeof t>[0];
type AfterKey = Parameters<typeof after.t>[0];

export type Task = CountdownView['stages'][number]['tasks'][number];
export type Packed = CountdownView['pack'][number];

const listed = (titles: readonly string[] = []): string => [...new Set(titles)].join('; ');
const mm = (value: number): string => inChosen(value, 'mm', { decimals: 1 });

/** The values that the sentences of tasks may name. */
function valuesOf(task: Task, timeZone: string): Record<string, string | number> {
  const { titles, part, opening, axle, wear, minutes, count = 0, value = 0, before = 0, by, at } = task;
  const step = opening === 'wheels' && axle !== undefined ? `step.wheels.${axle}` : `step.${opening ?? ''}`;
  return {
    titles: listed(titles),
    part: said(part, (one) => after.t(`part.${one}`)),
    step: said(opening, () => after.t(step as AfterKey)),
    axle: said(axle, cornerName),
    wear: said(wear, (one) => t(`wear.${one}`)),
    time: said(minutes, durationText),
    count,
    value: mm(value),
    torque: showQuantity(value, 'N·m', currentLanguage()),
    before: mm(before),
    by: said(by, dateText),
    at: said(at, (one) => timeText(one, timeZone)),
  };
}

const said = <T>(value: T | undefined, say: (value: T) => string): string => (value === undefined ? '' : say(value));

/** A task as one sentence for the person who does it. */
export function taskText(task: Task, timeZone: string): string {
  const { kind } = task;
  const isShort = kind === 'condition' && task.at === undefined;
  const isUnsafe = (kind === 'order-for-wear' || kind === 'watch-wear') && task.count === 0;
  const form = task.isLate === true ? '.late' : isShort ? '.open' : isUnsafe ? '.none' : '';
  return t(`task.${kind}${form}` as Key, valuesOf(task, timeZone));
}

/** What goes along, with its reason. */
export function packedText({ what, titles, axle, value }: Packed): string {
  const name = t(`pack.${what}`);
  if (value !== undefined) return t('pack.at', { name, value: showQuantity(value, 'N·m', currentLanguage()) });
  if (axle !== undefined) return t('pack.for-axle', { name, axle: cornerName(axle) });
  return titles === undefined ? name : t('pack.because', { name, titles: listed(titles) });
}

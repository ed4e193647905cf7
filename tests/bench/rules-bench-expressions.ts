import type { AnswerValue } from '../../src/domain/declaration/declaration.ts';
import { daysBetween, wholeMonthsBetween } from '../../src/domain/calendar.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import { expressionHead } from './rules-bench-closures.ts';
import { type Closure, finding, round, WHEELS } from './rules-bench-support.ts';
import { PARAMETERS } from './rules-bench-set.ts';

// The bench's expressions written by hand, in the order of the table. The bench answers all that they read.

type Head = ReturnType<typeof expressionHead>;
type Answer = (car: JudgeInput, position: string) => boolean | undefined;
type Compare = (car: JudgeInput, position: string) => [value: number, bound: number];
type Sign = '≥' | '≤' | '<';

const get = (car: JudgeInput, cell: string): AnswerValue | undefined => car.answers.get(cell);
const number = (car: JudgeInput, cell: string): number => get(car, cell) as number;
const AXLES = ['front', 'rear'];
const HOOKS = [
  'front-upper-arm',
  'front-lower-arm',
  'front-anti-roll-bar',
  'rear-upper-arm',
  'rear-lower-arm',
  'rear-anti-roll-bar',
  'subframe',
  'differential-mount',
];
const IRON = (car: JudgeInput, wheel: string): boolean =>
  car.vehicle.rotor?.[wheel.startsWith('F') ? 'front' : 'rear'] !== 'carbon';

/** `undefined` = the rule does not apply there. */
const yesNo =
  (positions: readonly (string | undefined)[], answer: Answer) =>
  (head: Head): Closure =>
  (car, out) => {
    for (const position of positions) {
      const holds = answer(car, position ?? '');
      if (holds === undefined) continue;
      out.push(finding(head, position, holds ? 'met' : 'not-met', undefined, undefined, undefined, head.message));
    }
  };

const compared =
  (positions: readonly (string | undefined)[], sign: Sign, unit: string, decimals: number, compare: Compare) =>
  (head: Head): Closure =>
  (car, out) => {
    for (const position of positions) {
      const [value, bound] = compare(car, position ?? '');
      const margin = { value: round(sign === '≥' ? value - bound : bound - value, decimals), unit };
      const holds = sign === '≥' ? value >= bound : sign === '≤' ? value <= bound : value < bound;
      out.push(
        finding(
          head,
          position,
          holds ? 'met' : 'not-met',
          { value: round(value, decimals), unit },
          `${sign} ${bound} ${unit}`,
          margin,
          head.message,
        ),
      );
    }
  };

const ONCE = [undefined];
const levelOf = (item: string, good = 'ok') =>
  yesNo(ONCE, (car) => get(car, `${item}#level`) === good || get(car, `${item}#cause`) !== undefined);
const cold = (car: JudgeInput): number[] => WHEELS.map((wheel) => number(car, `tyre.cold-pressure@${wheel}`));

const WRITTEN: readonly ((head: Head) => Closure)[] = [
  compared(WHEELS, '≤', 'mm', 1, (car, at) => [
    round(Math.abs(number(car, `pad.thickness@${at}.in`) - number(car, `pad.thickness@${at}.out`)), 1),
    2,
  ]),
  yesNo(
    ONCE,
    (car) =>
      get(car, 'oil.level.at-operating-temperature') === true && number(car, 'oil.level.minutes-since-shutdown') <= 10,
  ),
  yesNo(ONCE, (car) => number(car, 'oil.level.reading') >= 0 && number(car, 'oil.level.reading') <= 1),
  compared(WHEELS, '≤', 'N·m', 0, (car, at) => [
    round(Math.abs(number(car, `wheel.torque@${at}`) - (car.vehicle.wheelNutTorqueNm as number)), 0),
    PARAMETERS.torqueTolerance.value,
  ]),
  yesNo(WHEELS, (car, at) => get(car, `wheel-play.nine-three@${at}#felt`) === 'none'),
  yesNo(WHEELS, (car, at) => {
    const mm = get(car, `wheel-play.twelve-six@${at}#mm`);
    return get(car, `wheel-play.twelve-six@${at}#felt`) === 'none' || (typeof mm === 'number' && mm <= 0.5);
  }),
  levelOf('brake-fluid.level'),
  levelOf('coolant.level'),
  yesNo(WHEELS, (car, at) =>
    IRON(car, at) ? ['none', 'surface-checks'].includes(String(get(car, `rotor.cracks@${at}`))) : undefined,
  ),
  yesNo(WHEELS, (car, at) => {
    const cracks = get(car, `rotor.cracks@${at}`);
    return IRON(car, at) && cracks !== 'none' ? cracks !== 'opening' : undefined;
  }),
  yesNo(
    ONCE,
    (car) => number(car, 'steering.free-play#play') <= 25 || number(car, 'steering.free-play#wheelDiameter') > 400,
  ),
  yesNo(
    WHEELS,
    (car, at) => get(car, `tyre.cords-visible@${at}`) === false && get(car, `tyre.cuts-or-bulges@${at}`) === false,
  ),
  compared(AXLES, '≥', '°C', 0, (car, at) => [
    number(car, `pad.temperature-range@${at}#high`),
    PARAMETERS.padHeat.value,
  ]),
  compared(AXLES, '<', '°C', 0, (car, at) => [
    number(car, `pad.temperature-range@${at}#low`),
    number(car, `pad.temperature-range@${at}#high`),
  ]),
  yesNo(ONCE, (car) => PARAMETERS.helmets.value.includes(String(get(car, 'helmet.standard')))),
  (head) => (car, out) => {
    // a light car is decided by its record alone: no answer is read, so the finding has no source
    const isLight = (car.vehicle.massKg as number) < 1600;
    const holds = isLight || ['DOT 5.1', 'ISO 6'].includes(String(get(car, 'brake-fluid.class')));
    const made = finding(head, undefined, holds ? 'met' : 'not-met', undefined, undefined, undefined, head.message);
    if (isLight) made.source = undefined;
    out.push(made);
  },
  yesNo(ONCE, (car) => HOOKS.every((at) => ['ok', 'perished'].includes(String(get(car, `bushing.condition@${at}`))))),
  levelOf('gearbox-fluid.level', 'at-hole'),
  compared(WHEELS, '≥', 'kPa', 0, (car, at) => [number(car, `tyre.cold-pressure@${at}`), 150]),
  compared(ONCE, '≤', 'kPa', 0, (car) => [Math.max(...cold(car)), 290]),
  compared(ONCE, '≥', 'mm', 1, (car) => [
    number(car, 'wheel.stud-engagement#length'),
    car.vehicle.wheelStudDiameterMm as number,
  ]),
  compared(ONCE, '<', 'mm', 1, (car) => [number(car, 'steering.free-play#play'), 40]),
  compared(ONCE, '≤', 'day', 6, (car) => [
    daysBetween(String(get(car, 'brake-fluid.flushed-on')), car.event.endsOn),
    400,
  ]),
  compared(ONCE, '≤', 'dB(A)', 1, (car) => [
    number(car, 'exhaust.sound-level#level'),
    car.venue.soundLimitDb as number,
  ]),
  compared(ONCE, '<', 'month', 6, (car) => [
    wholeMonthsBetween(String(get(car, 'oil.changed-on')), car.event.endsOn),
    24,
  ]),
  yesNo(
    WHEELS,
    (car, at) => get(car, `wheel.bent@${at}#bent`) !== true || number(car, `wheel.bent@${at}#runout`) <= 3.2,
  ),
];

/** The expressions as closures, numbered on from the typed rules. */
export function makeExpressionClosures(typed: number): Closure[] {
  return WRITTEN.map((write, index) => write(expressionHead(typed, index)));
}

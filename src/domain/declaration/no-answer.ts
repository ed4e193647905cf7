import { type AnswerValue, isJsonObject, quote, type ReadFault } from './read-answer.ts';

/**
 * Why a question does not apply to a car although the car's record does not say so. Which of them an item takes is stated on
 * the item: without a list it must be answered. Labels as the entrant reads them.
 */
export const NO_ANSWER_REASONS = {
  'sealed-for-life': 'Sealed for life: it has no filler and no interval',
  'none-fitted': 'None is fitted to this car',
  'shares-engine-oil': 'It runs in the engine oil',
  'electronic-gauge-only': 'The car has only an electronic gauge',
  'no-marking': 'It carries no marking',
  'not-adjustable': 'It cannot be adjusted or taken apart',
} as const;
export type NoAnswerReason = keyof typeof NO_ANSWER_REASONS;

/** What stands in the place of an answer. It never meets a rule. */
export type NoAnswer = { kind: 'does-not-apply'; reason: NoAnswerReason } | { kind: 'not-sure' };

const NOT_SURE = 'not-sure';

/** The name under which `Answers` keep that a place has no answer: no cell of the catalogue ends so. */
const nameOf = (place: string): string => `${place}!`;

/** The place of a name in `Answers`, with whether it says that there is no answer. */
export function placeOfName(name: string): { place: string; isNoAnswer: boolean } {
  if (name.endsWith('!')) return { place: name.slice(0, -1), isNoAnswer: true };
  // `~` says what the answer of the place rests on
  return { place: name.endsWith('~') ? name.slice(0, -1) : name, isNoAnswer: false };
}

/** What was said in the place of an answer at a cell or at the place around it (`key@FL` for `key@FL#felt`). */
export function noAnswerAt(answers: ReadonlyMap<string, AnswerValue>, cell: string): NoAnswer | undefined {
  const [place = cell] = cell.split('#');
  const said = answers.get(nameOf(place));
  if (said === undefined) return undefined;
  // written by `keepNoAnswer` only
  return said === NOT_SURE ? { kind: 'not-sure' } : { kind: 'does-not-apply', reason: said as NoAnswerReason };
}

export function keepNoAnswer(to: Map<string, AnswerValue>, place: string, said: NoAnswer): void {
  to.set(nameOf(place), said.kind === 'not-sure' ? NOT_SURE : said.reason);
}

/** Whether a raw answer is one of the two forms of no answer, well written or not. */
export function isNoAnswer(raw: unknown): raw is Record<string, unknown> {
  return isJsonObject(raw) && (Object.hasOwn(raw, 'doesNotApply') || Object.hasOwn(raw, 'notSure'));
}

type Read = { ok: true; said: NoAnswer } | { ok: false; fault: ReadFault };
const bad = (at: readonly string[], code: ReadFault['code'], detail: string): Read => ({
  ok: false,
  fault: { at, code, detail },
});

/** Reads `{"doesNotApply": reason}` or `{"notSure": true}` against the reasons that the item takes. */
export function readNoAnswer(raw: Record<string, unknown>, taken: readonly NoAnswerReason[]): Read {
  const extra = Object.keys(raw).filter((name) => name !== 'doesNotApply' && name !== 'notSure');
  if (extra.length > 0) return bad([extra[0] ?? ''], 'unknown-field', 'stands beside doesNotApply or notSure alone');
  if (Object.keys(raw).length > 1) return bad([], 'unknown-field', 'give doesNotApply or notSure, not both');
  if (Object.hasOwn(raw, 'notSure')) {
    if (raw['notSure'] === true) return { ok: true, said: { kind: 'not-sure' } };
    return bad(['notSure'], 'wrong-type', 'must be true; leave the answer out if you are sure');
  }
  const reason = raw['doesNotApply'];
  const known = taken.find((one) => one === reason);
  if (known !== undefined) return { ok: true, said: { kind: 'does-not-apply', reason: known } };
  const detail =
    taken.length === 0
      ? 'this must be answered; if it cannot be told now, send {"notSure": true}'
      : `${quote(reason)} is not one of ${taken.join(', ')}`;
  return bad(['doesNotApply'], 'unknown-option', detail);
}

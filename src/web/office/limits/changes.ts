import type { Limits, RunGroupChangesInput, RunGroupView } from '../../api/operations.ts';

export type Limit = Limits['limits'][number];
export type EffectRow = Limits['effects'][number];
export type Value = Limit['value'];
export type Effect = EffectRow['effect'];

/** What is typed and not saved: a new value by name, or `null` for back to the built-in one; effects likewise. */
export interface Wanted {
  limits: Readonly<Record<string, Value | null>>;
  effects: Readonly<Record<string, Effect | null>>;
}

export const NOTHING: Wanted = { limits: {}, effects: {} };

export const countOf = ({ limits, effects }: Wanted): number =>
  Object.keys(limits).length + Object.keys(effects).length;

const same = (a: Value, b: Value): boolean => JSON.stringify(a) === JSON.stringify(b);

/** With a value for a limit; one that says what stands there already is no change. */
export function withLimit(wanted: Wanted, limit: Limit, value: Value | null): Wanted {
  const { [limit.name]: _, ...others } = wanted.limits;
  const isChange = value === null ? limit.from === 'run-group' : !same(value, limit.value);
  return { ...wanted, limits: isChange ? { ...others, [limit.name]: value } : others };
}

export function withEffect(wanted: Wanted, row: EffectRow, effect: Effect | null): Wanted {
  const { [row.ruleId]: _, ...others } = wanted.effects;
  const isChange = effect === null ? row.from === 'run-group' : effect !== row.effect;
  return { ...wanted, effects: isChange ? { ...others, [row.ruleId]: effect } : others };
}

/** A number as it is typed in either language; undefined: it is none. */
export function numberIn(typed: string): number | undefined {
  const text = typed.trim().replace(',', '.');
  const value = Number(text);
  return text === '' || !Number.isFinite(value) ? undefined : value;
}

/** Whether a value is far from what such a limit usually is. */
export function isOdd({ plausible, wholeNumber }: Limit, value: Value | null): boolean {
  if (typeof value !== 'number') return false;
  if (wholeNumber && (!Number.isInteger(value) || value < 0)) return true;
  return plausible !== undefined && (value < plausible.from || value > plausible.to);
}

type Overrides = NonNullable<RunGroupChangesInput['parameters']>;
type Effects = NonNullable<NonNullable<RunGroupChangesInput['overlay']>['effects']>;

/** The limits as they are sent, each with why; `null` takes one away. */
export function overridesFrom(wanted: Wanted, limits: readonly Limit[], reason: string): Overrides {
  return Object.fromEntries(
    Object.entries(wanted.limits).map(([name, value]) => {
      if (value === null) return [name, null];
      const unit = limits.find((one) => one.name === name)?.unit;
      return [name, { value, reason, ...(unit === undefined || typeof value !== 'number' ? {} : { unit }) }];
    }),
  );
}

/** The effects that a group or a venue has of its own, with what is wanted put in. */
export function effectsFrom(wanted: Wanted, before: Readonly<Record<string, unknown>>, reason: string): Effects {
  const next: Record<string, unknown> = { ...before };
  for (const [ruleId, effect] of Object.entries(wanted.effects)) {
    if (effect === null) delete next[ruleId];
    else next[ruleId] = { effect, reason };
  }
  // What was there came from the server, and it looks at every member again.
  return next as Effects;
}

/** A change of one group; other rules of the group stay as they are. */
export function groupChange(
  wanted: Wanted,
  { group, limits, reason }: { group: RunGroupView; limits: readonly Limit[]; reason: string },
): RunGroupChangesInput {
  const overlay = { effects: effectsFrom(wanted, group.overlay.effects, reason), rules: group.overlay.rules };
  return {
    parameters: overridesFrom(wanted, limits, reason),
    ...(Object.keys(wanted.effects).length === 0
      ? {}
      : { overlay: overlay as NonNullable<RunGroupChangesInput['overlay']> }),
    reason,
  };
}

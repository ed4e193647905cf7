import { ApiProblem, call } from '../../api/call.ts';
import {
  changeRunGroup,
  getRunGroup,
  getVenueOverlay,
  type Limits,
  listRunGroups,
  previewRunGroup,
  replaceVenueOverlay,
  type RunGroupChangesInput,
  type RunGroupPreview,
  type RunGroupView,
  type VenueOverlayInput,
} from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';

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
function overridesFrom(wanted: Wanted, limits: readonly Limit[], reason: string): Overrides {
  return Object.fromEntries(
    Object.entries(wanted.limits).map(([name, value]) => {
      if (value === null) return [name, null];
      const unit = limits.find((one) => one.name === name)?.unit;
      return [name, { value, reason, ...(unit === undefined || typeof value !== 'number' ? {} : { unit }) }];
    }),
  );
}

/** The effects that a group or a venue has of its own, with what is wanted put in. */
function effectsFrom(wanted: Wanted, before: Readonly<Record<string, unknown>>, reason: string): Effects {
  const next: Record<string, unknown> = { ...before };
  for (const [ruleId, effect] of Object.entries(wanted.effects)) {
    if (effect === null) delete next[ruleId];
    else next[ruleId] = { effect, reason };
  }
  // What was there came from the server, and it looks at every member again.
  return next as Effects;
}

/** A change of one group; other rules of the group stay as they are. */
function groupChange(
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

/** For whom: this group, every group of the event that has the same rules, or the venue with all its events. */
export const SCOPES = ['group', 'event', 'venue'] as const;
export type Scope = (typeof SCOPES)[number];

interface Asked {
  wanted: Wanted;
  limits: readonly Limit[];
  reason: string;
  scope: Scope;
}

/** What one group would become, and what to send for it. */
export interface Shown {
  group: RunGroupView;
  preview: RunGroupPreview;
}

const SLOW = { timeoutMs: 120_000 };

/** The groups that a change is for. */
async function targetsOf(office: OfficeContext, group: RunGroupView, scope: Scope): Promise<readonly RunGroupView[]> {
  if (scope === 'group') return [group];
  const { eventId, token } = office;
  const { body } = await call(listRunGroups, { params: { eventId } }, { token });
  return body.runGroups.filter(({ ruleSetId }) => ruleSetId === group.ruleSetId);
}

/** Who would change, group by group; nothing is written. What a venue changes does to a group what its own change would. */
export async function previewAll(office: OfficeContext, group: RunGroupView, asked: Asked): Promise<Shown[]> {
  const { eventId, token } = office;
  const shown: Shown[] = [];
  for (const target of await targetsOf(office, group, asked.scope)) {
    const params = { eventId, runGroupId: target.runGroupId };
    const { preview: _, ...body } = groupChange(asked.wanted, { ...asked, group: target });
    const answer = await call(previewRunGroup, { params, body }, { token, ...SLOW });
    shown.push({ group: target, preview: answer.body });
  }
  return shown;
}

/** Saves what was shown: for a venue its own change first, which the groups of this event then take. */
export async function saveAll(office: OfficeContext, shown: readonly Shown[], asked: Asked): Promise<void> {
  if (asked.scope === 'venue') await saveVenue(office, shown[0]?.group, asked);
  for (const { group, preview } of shown) {
    const body =
      asked.scope === 'venue'
        ? { takeVenueRules: true as const, reason: asked.reason }
        : groupChange(asked.wanted, { ...asked, group });
    await saveGroup(office, group, { body, preview: asked.scope === 'venue' ? undefined : preview.preview });
  }
}

async function saveGroup(
  { eventId, token }: OfficeContext,
  { runGroupId }: RunGroupView,
  { body, preview }: { body: RunGroupChangesInput; preview: string | undefined },
): Promise<void> {
  const params = { eventId, runGroupId };
  const seen = preview ?? (await call(previewRunGroup, { params, body }, { token, ...SLOW })).body.preview;
  const { etag } = await call(getRunGroup, { params }, { token });
  const headers = etag === undefined ? {} : { 'if-match': etag };
  await call(changeRunGroup, { params, headers, body: { ...body, preview: seen } }, { token, ...SLOW });
}

async function saveVenue(office: OfficeContext, group: RunGroupView | undefined, asked: Asked): Promise<void> {
  if (group === undefined) return;
  const { token, event } = office;
  const params = { venueId: event.venueId, ruleSetId: group.ruleSetId };
  const current = await call(getVenueOverlay, { params }, { token }).catch((error: unknown) => {
    if (error instanceof ApiProblem && error.status === 404) return undefined;
    throw error;
  });
  const { parameters = {}, effects = {}, rules = [] } = current?.body ?? {};
  const overrides = { ...parameters, ...overridesFrom(asked.wanted, asked.limits, asked.reason) };
  const body = {
    parameters: Object.fromEntries(Object.entries(overrides).filter(([, value]) => value !== null)),
    effects: effectsFrom(asked.wanted, effects, asked.reason),
    rules,
  } as VenueOverlayInput;
  const headers = { 'if-match': current?.etag ?? '"0"' };
  await call(replaceVenueOverlay, { params, headers, body }, { token, ...SLOW });
}

import { ApiProblem, call } from '../../api/call.ts';
import {
  changeRunGroup,
  getRunGroup,
  getVenueOverlay,
  listRunGroups,
  previewRunGroup,
  replaceVenueOverlay,
  type RunGroupChangesInput,
  type RunGroupPreview,
  type RunGroupView,
  type VenueOverlayInput,
} from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';
import { effectsFrom, groupChange, type Limit, overridesFrom, type Wanted } from './changes.ts';

/** For whom: this group, every group of the event that has the same rules, or the venue with all its events. */
export const SCOPES = ['group', 'event', 'venue'] as const;
export type Scope = (typeof SCOPES)[number];

export interface Asked {
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

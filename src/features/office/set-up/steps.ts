import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { MISSING, type Missing, type MissingCode, type SetUpView, STEPS, type Step, WORDS } from './schemas.ts';
import { type EventSetUp, findEventSetUp, type Ground, readGround, setSkip } from './store.ts';

/**
 * The steps from nothing to entrants who declare, with what is missing at each. All of it is read from what there is, so
 * that a step is done however it was done; only what was left out on purpose is written down.
 *
 * @throws ProblemError `not-found`
 */
export async function readSetUp(deps: Deps, eventId: string | undefined): Promise<SetUpView> {
  const db = deps.db.prisma;
  const now = deps.clock.now();
  const ground = await readGround(db);
  if (eventId === undefined) return viewSteps({ ground, event: undefined, now });
  const event = await findEventSetUp(db, eventId, now);
  if (event === undefined) throw notFound('event');
  return { eventId, ...viewSteps({ ground, event, now }) };
}

/** @throws ProblemError `not-found` */
export async function skipStep(
  deps: Deps,
  actor: Actor,
  { eventId, ...skip }: { eventId: string; step: string; skipped: boolean },
): Promise<SetUpView> {
  const known = await setSkip(deps.db.prisma, { eventId, ...skip }, { actor, at: deps.clock.now() });
  if (!known) throw notFound('event');
  return readSetUp(deps, eventId);
}

/** What the steps are told from. */
export interface Known {
  ground: Ground;
  /** undefined: there is none yet */
  event: EventSetUp | undefined;
  now: Date;
}

/** Pure: the same facts give the same steps. */
export function viewSteps(known: Known): Omit<SetUpView, 'eventId'> {
  const missing = missingOf(known);
  const steps = STEPS.map((step) => {
    const here = missing.filter(({ code }) => MISSING[code].step === step);
    const skipped = known.event?.skips.includes(step) === true;
    // What can stay as it is keeps a step open until somebody has said that it does, but never entrants from starting.
    const state = here.length === 0 ? ('done' as const) : skipped ? ('skipped' as const) : ('open' as const);
    return { step, state, count: countsOf(known)[step], missing: here };
  });
  return {
    steps,
    next: steps.find(({ state }) => state === 'open')?.step ?? null,
    entrantsCanStart: !missing.some(({ code, before }) => before === 'entrants' && code !== 'some-links'),
  };
}

function countsOf({ ground, event }: Known): Record<Step, number> {
  return {
    venue: ground.venues,
    event: ground.events,
    rules: ground.publishedSets,
    groups: event?.groups ?? 0,
    people: event === undefined ? 0 : event.chiefs + event.inspectors + event.marshals,
    entries: event?.entries ?? 0,
    links: event?.linked ?? 0,
  };
}

const OF_AN_EVENT: readonly MissingCode[] = [
  'no-group',
  'no-inspector',
  'no-chief',
  'no-marshal',
  'no-entry',
  'no-link',
];

function missingOf({ ground, event, now }: Known): Missing[] {
  const found: Partial<Record<MissingCode, number | true>> = {};
  const say = (code: MissingCode, when: boolean, count: number | true = true): void => {
    if (when) found[code] = count;
  };
  say('no-venue', ground.venues === 0 && event === undefined);
  say('no-event', event === undefined);
  say('no-rules', ground.publishedSets === 0 && (event?.groups ?? 0) === 0);
  // Without an event nothing of what belongs to one can be there.
  if (event === undefined) for (const code of OF_AN_EVENT) say(code, true);
  else ofEvent(event, now, say);
  // In the order of the table, whatever found them.
  return (Object.keys(MISSING) as MissingCode[]).flatMap((code) => {
    const count = found[code];
    if (count === undefined) return [];
    const { before } = MISSING[code];
    return [{ code, before, words: WORDS[code], ...(count === true ? {} : { count }) }];
  });
}

function ofEvent(event: EventSetUp, now: Date, say: (code: MissingCode, when: boolean, count?: number) => void): void {
  const { venue, cancelled, groups, groupsOffDay, inspectors, entries, linked } = event;
  say('no-braking-zones', (venue.brakingZones ?? []).length === 0);
  say('no-top-speed', venue.topSpeedKmh === undefined);
  const over = now >= event.until;
  say('event-cancelled', cancelled);
  say('event-over', over && !cancelled);
  say('window-closed', now >= event.closesAt && !over && !cancelled);
  say('no-group', groups === 0);
  say('session-off-day', groupsOffDay > 0, groupsOffDay);
  say('no-inspector', inspectors === 0);
  say('one-inspector', inspectors === 1);
  say('no-chief', event.chiefs === 0);
  say('no-marshal', event.marshals === 0);
  say('no-entry', entries === 0);
  say('no-link', linked === 0);
  say('some-links', linked > 0 && linked < entries, entries - linked);
}

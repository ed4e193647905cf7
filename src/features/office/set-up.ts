import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { type EventSetUp, findEventSetUp, type Ground, readGround, setSkip } from './store.ts';

/**
 * The steps from nothing to entrants who declare, with what is missing at each. All of it is read from what there is, so
 * that a step is done however it was done; only what was left out on purpose is written down.
 *
 * @throws ProblemError `not-found`
 */
async function readSetUp(deps: Deps, eventId: string | undefined): Promise<SetUpView> {
  const db = deps.db.prisma;
  const now = deps.clock.now();
  const ground = await readGround(db);
  if (eventId === undefined) return viewSteps({ ground, event: undefined, now });
  const event = await findEventSetUp(db, eventId, now);
  if (event === undefined) throw notFound('event');
  return { eventId, ...viewSteps({ ground, event, now }) };
}

/** @throws ProblemError `not-found` */
async function skipStep(
  deps: Deps,
  actor: Actor,
  { eventId, ...skip }: { eventId: string; step: string; skipped: boolean },
): Promise<SetUpView> {
  const known = await setSkip(deps.db.prisma, { eventId, ...skip }, { actor, at: deps.clock.now() });
  if (!known) throw notFound('event');
  return readSetUp(deps, eventId);
}

/** What the steps are told from. */
interface Known {
  ground: Ground;
  /** undefined: there is none yet */
  event: EventSetUp | undefined;
  now: Date;
}

/** Pure: the same facts give the same steps. */
function viewSteps(known: Known): Omit<SetUpView, 'eventId'> {
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

/** How far the way from an empty server to entrants who declare is gone. Organizers only. */
export async function setUpRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Events', access: ['organizer'] } as const;
  const success = { 200: { description: 'The steps as they stand', schema: SetUpView, example: SET_UP_EXAMPLE } };
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/set-up',
    operationId: 'getSetUp',
    summary: 'Read what is still missing before entrants can start',
    description:
      'Venue, event, rules, run groups, people, entries, links: each done, open or left out, and what is missing.',
    query: setUpQuery,
    success,
    problems: ['not-found'],
    handle: async ({ query }) => ({ status: 200, body: await readSetUp(deps, query.eventId) }),
  });
  addRoute(app, {
    ...common,
    method: 'PUT',
    path: '/events/:eventId/set-up/:step',
    operationId: 'skipSetUpStep',
    summary: 'Leave a step of setting up out, or have it count again',
    description: 'What it would have made can be made at any time all the same.',
    params: skipParams,
    body: SkipStep,
    bodyExample: { skipped: true },
    success,
    problems: ['not-found'],
    handle: async ({ params, body, actor }) => ({
      status: 200,
      body: await skipStep(deps, actor, { ...params, ...body }),
    }),
  });
}

const STEPS = ['venue', 'event', 'rules', 'groups', 'people', 'entries', 'links'] as const;
type Step = (typeof STEPS)[number];

/** Steps that may be left out: what the others make is what entrants are judged by. */
const SKIPPABLE = ['venue', 'people', 'entries', 'links'] as const;

/** What can be missing, and before what it must be there: `entrants` can start, or the `day`; `better` can stay as it is. */
const MISSING = {
  'no-venue': { step: 'venue', before: 'entrants' },
  'no-braking-zones': { step: 'venue', before: 'better' },
  'no-top-speed': { step: 'venue', before: 'better' },
  'no-event': { step: 'event', before: 'entrants' },
  'event-cancelled': { step: 'event', before: 'entrants' },
  'event-over': { step: 'event', before: 'entrants' },
  'window-closed': { step: 'event', before: 'entrants' },
  'no-rules': { step: 'rules', before: 'entrants' },
  'no-group': { step: 'groups', before: 'entrants' },
  'session-off-day': { step: 'groups', before: 'day' },
  'no-inspector': { step: 'people', before: 'day' },
  'one-inspector': { step: 'people', before: 'day' },
  'no-chief': { step: 'people', before: 'day' },
  'no-marshal': { step: 'people', before: 'day' },
  'no-entry': { step: 'entries', before: 'entrants' },
  'no-link': { step: 'links', before: 'entrants' },
  'some-links': { step: 'links', before: 'entrants' },
} as const satisfies Readonly<Record<string, { step: Step; before: 'entrants' | 'day' | 'better' }>>;
type MissingCode = keyof typeof MISSING;

/** Exhaustive by its type: a code without words does not compile. */
const WORDS: Readonly<Record<MissingCode, string>> = {
  'no-venue': 'There is no venue. Name and time zone are enough to begin.',
  'no-braking-zones':
    'The venue has no braking zones, so no rule can work out how hot brakes get there. Pads and fluid are judged by fixed limits.',
  'no-top-speed': 'The venue has no top speed, so tyres are not held against the speed that is reached there.',
  'no-event': 'There is no event.',
  'event-cancelled': 'The event was cancelled. Copy it to have it after all.',
  'event-over': 'The event is over.',
  'window-closed': 'Declarations are closed. Only an inspector at the line can take one now.',
  'no-rules': 'No rules are published. The built-in set is adopted with one tap.',
  'no-group': 'There is no run group, so nobody can be entered.',
  'session-off-day': 'The first session of a group is on no day of the event.',
  'no-inspector': 'No inspector has access. Nobody can accept a car.',
  'one-inspector': 'Only one inspector has access. Nobody may accept the own car, and the line is slow.',
  'no-chief': 'No chief inspector has access. Nobody can grant an exception.',
  'no-marshal': 'No gate device has access. Nobody can ask whether a car may go.',
  'no-entry': 'Nobody is entered.',
  'no-link': 'No entrant has a link, so nobody can declare.',
  'some-links': 'Some entrants have no link yet.',
};

const Missing = z.object({
  code: z.enum(Object.keys(MISSING) as [MissingCode, ...MissingCode[]]).describe('What is missing, for programs'),
  before: z
    .enum(['entrants', 'day', 'better'])
    .describe('`entrants`: they cannot start without; `day`: the event cannot; `better`: it can stay so'),
  words: z.string().describe('What it means'),
  count: z.int().optional().describe('Of how many'),
});
type Missing = z.infer<typeof Missing>;

const SetUpView = z
  .object({
    eventId: Id.optional().describe('Absent while there is no event'),
    steps: z
      .array(
        z.object({
          step: z.enum(STEPS).describe('The step'),
          state: z
            .enum(['open', 'done', 'skipped'])
            .describe('`done`: nothing is missing; `skipped`: left out on purpose, and something is'),
          count: z.int().describe('How many there are: venues, events, rule sets, groups, people, entries, links'),
          missing: z.array(Missing).describe('What is missing here'),
        }),
      )
      .describe('In the order in which they are done'),
    next: z.enum(STEPS).nullable().describe('The first open step; null: all are done or left out'),
    entrantsCanStart: z.boolean().describe('Whether entrants who have a link can declare now or when the window opens'),
  })
  .meta({ id: 'SetUpView' });
type SetUpView = z.infer<typeof SetUpView>;

const setUpQuery = z.strictObject({
  eventId: Id.optional().describe('The event; absent: what there is before one'),
});
const skipParams = z.strictObject({
  eventId: Id,
  step: z.enum(SKIPPABLE).describe('A step that may be left out'),
});
const SkipStep = z
  .strictObject({ skipped: z.boolean().describe('`true`: it is left out on purpose; `false`: it counts again') })
  .meta({ id: 'SkipSetUpStep' });

const SET_UP_EXAMPLE: SetUpView = {
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  steps: [
    {
      step: 'people',
      state: 'open',
      count: 2,
      missing: [{ code: 'one-inspector', before: 'day', words: WORDS['one-inspector'] }],
    },
  ],
  next: 'people',
  entrantsCanStart: true,
};

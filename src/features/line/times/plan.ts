import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { instantOf, minutesOf, shiftFaults, usualShifts } from '../../../domain/line/line-hours.ts';
import { fitIn, giveLanes, type ToldTime, WORTH_TELLING } from '../../../domain/line/told-times.ts';
import { roundTo } from '../../../domain/quantity.ts';
import { inThread, URGENCY } from '../../../http/body/in-thread.ts';
import { notAcceptable, notFound, ProblemError } from '../../../http/frame/problem.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { inTransaction } from '../../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../../records/history/event-history.ts';
import { toldAt } from '../../../records/tickets.ts';
import { planTask } from './plan.task.ts';
import { LINE_PLAN_CAUTION, type LinePlanInput, type LinePlanned, type LinePlanView } from './schemas.ts';
import { findLineEvent, forgetTimes, keepPlan, type LineEvent, type LineSettings, type NewTime } from './store.ts';
import { type Car, inLine, learnHere, newTime, oldTime, readLine, tell } from './told.ts';

const settingsOf = ({ settings, firstSessions, timeZone }: LineEvent): LineSettings =>
  settings ?? { shifts: usualShifts(firstSessions, timeZone) };

const nameOf = ({ entryId, carNumber, runGroup, dueAt }: Car) => ({
  entryId,
  carNumber,
  runGroup,
  dueAt: instantOf(dueAt).toISOString(),
});

const stateOf = ({ onLine, claimedAt, notHereAt }: Car): LinePlanView['cars'][number]['state'] => {
  if (!onLine) return 'not-declared';
  if (claimedAt !== null) return 'claimed';
  return notHereAt === null ? 'waiting' : 'not-here';
};

/**
 * When the line is open, and which car was told what.
 *
 * @throws ProblemError `not-found`
 */
export async function readPlan(deps: Deps, eventId: string): Promise<LinePlanView> {
  const db = deps.db.prisma;
  const event = await findLineEvent(db, eventId);
  if (event === undefined) throw notFound('event');
  const now = deps.clock.now();
  const settings = settingsOf(event);
  const { cars, shifts, minutes } = await readLine(db, eventId, { settings, learned: await learnHere(db), now });
  const late = new Set(fitIn(cars.filter(({ onLine }) => onLine).map(inLine), shifts, minutesOf(now)).late);
  const turn = ({ at, dueAt }: Car) => (at === null ? dueAt : minutesOf(at));
  const { plannedAt, plannedBy } = event;
  return {
    settings,
    isUsual: event.settings === null,
    ...(plannedAt === null || plannedBy === null ? {} : { planned: { at: plannedAt.toISOString(), by: plannedBy } }),
    minutes,
    cars: cars
      .toSorted((a, b) => Number(b.onLine) - Number(a.onLine) || turn(a) - turn(b))
      .map((car) => {
        const told = toldAt(car.at, car.lane);
        const isTold = car.onLine && told !== undefined;
        return {
          ...nameOf(car),
          ...(isTold ? { told } : {}),
          state: stateOf(car),
          isLate: event.settings !== null && late.has(car.entryId),
        };
      }),
    caution: LINE_PLAN_CAUTION,
  };
}

/** @throws ProblemError `not-acceptable` naming every shift */
function assertShifts({ shifts }: LinePlanInput): void {
  const errors = shiftFaults(shifts).map(({ at, field, detail }) => ({
    pointer: `/shifts/${at}/${field}`,
    code: 'shift-order',
    detail,
    in: 'body' as const,
  }));
  if (errors.length === 0) return;
  throw notAcceptable(errors);
}

interface Made {
  planned: Omit<LinePlanned, 'messages'>;
  times: NewTime[];
}

/** A time for every car on the line; who was told one that is hardly another keeps it. */
async function makePlan(deps: Deps, actor: Actor, eventId: string, settings: LineSettings): Promise<Made> {
  const db = deps.db.prisma;
  const learned = await learnHere(db);
  const { cars, shifts, minutes } = await readLine(db, eventId, { settings, learned, now: deps.clock.now() });
  const asked = { caller: actor.tokenId, urgency: URGENCY.preview };
  const toPlan = cars.filter(({ claimedAt }) => claimedAt === null);
  const toPlace = toPlan.map((car) => ({ id: car.entryId, dueAt: car.dueAt, meanMinutes: car.minutes }));
  const nobody = { times: [], meanWait: 0, allInTime: 1, missing: 0, missShares: new Map<string, number>() };
  const plan =
    toPlace.length === 0 || shifts.length === 0
      ? { ...nobody, inspectorsMissing: 0, opensEarlier: 0 }
      : await inThread(deps.threads, planTask, { cars: toPlace, shifts }, asked);
  const byId = new Map(toPlan.map((car) => [car.entryId, car]));
  const closes = Math.max(0, ...shifts.map(({ to }) => to));
  const inHours = plan.times.filter(({ at }) => at < closes);
  const told = giveLanes(inHours, new Map(toPlan.map((car) => [car.entryId, car.minutes])), shifts).flatMap(
    ({ id, told: time }) => {
      const car = byId.get(id);
      return car?.onLine === true ? [{ car, time: kept(car, time) }] : [];
    },
  );
  const withTime = new Set(told.map(({ car }) => car.entryId));
  return {
    planned: {
      cars: told
        .toSorted((a, b) => a.time.at - b.time.at)
        .map(({ car, time }) => ({
          ...nameOf(car),
          told: viewTold(time),
          ...(car.at !== null && minutesOf(car.at) !== time.at ? { was: viewTold(oldTime(car) ?? time) } : {}),
          missShare: plan.missShares.get(car.entryId) ?? 0,
        })),
      withoutTime: toPlan.filter(({ onLine, entryId }) => onLine && !withTime.has(entryId)).map(nameOf),
      roomKept: toPlan.filter(({ onLine }) => !onLine).length,
      meanWaitMinutes: roundTo(plan.meanWait, 1),
      allInTimeShare: plan.allInTime,
      missing: roundTo(plan.missing, 1),
      inspectorsMissing: plan.inspectorsMissing ?? null,
      opensEarlier: plan.opensEarlier ?? null,
      minutes,
      caution: LINE_PLAN_CAUTION,
    },
    times: told.map(({ car, time }) => newTime(car, time)),
  };
}

/** Whoever has a time keeps it where the new one is hardly another. */
function kept(car: Car, time: ToldTime): ToldTime {
  const old = oldTime(car);
  return old !== undefined && Math.abs(old.at - time.at) < WORTH_TELLING ? old : time;
}

const viewTold = ({ at, lane }: ToldTime) => toldAt(instantOf(at), lane ?? null);

const messagesOf = (times: readonly NewTime[]): number => times.filter(({ messageId }) => messageId !== null).length;

/**
 * What a plan would be and what would come of it. Nothing is written.
 *
 * @throws ProblemError `not-found`, `not-acceptable`, `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function previewPlan(
  deps: Deps,
  actor: Actor,
  eventId: string,
  input: LinePlanInput,
): Promise<LinePlanned> {
  await assertPlannable(deps, eventId, input);
  const { planned, times } = await makePlan(deps, actor, eventId, input);
  return { ...planned, messages: messagesOf(times) };
}

/**
 * Gives every car on the line its time, tells the entrants, and follows the line from then on.
 *
 * @throws ProblemError as `previewPlan`
 */
export async function planEvent(
  deps: Deps,
  actor: Actor,
  { eventId, input, requestId }: { eventId: string; input: LinePlanInput; requestId: string },
): Promise<LinePlanned> {
  await assertPlannable(deps, eventId, input);
  const { planned, times } = await makePlan(deps, actor, eventId, input);
  await inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockEvent(tx, eventId);
    if (locked === undefined) throw notFound('event');
    const at = await decisionTime(tx, deps.clock);
    await keepPlan(tx, eventId, { settings: input, by: actor.tokenId, name: actor.name, at });
    await forgetTimes(
      tx,
      eventId,
      times.map(({ entryId }) => entryId),
    );
    await tell(tx, eventId, times, { now: at, requestId });
    const data = { ...input, cars: times.length, messages: messagesOf(times) };
    await recordEventChange(tx, locked, { actor, at, action: 'line.planned', data, requestId });
  });
  return { ...planned, messages: messagesOf(times) };
}

async function assertPlannable(deps: Deps, eventId: string, input: LinePlanInput): Promise<void> {
  const event = await findLineEvent(deps.db.prisma, eventId);
  if (event === undefined) throw notFound('event');
  if (event.isCancelled) {
    throw new ProblemError('state-moved-on', 'This event was cancelled.', { currentState: 'cancelled' });
  }
  assertShifts(input);
}

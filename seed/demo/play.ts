import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { demoAnswers, type DemoEvent, secondMorning } from '../demo-data.ts';
import { type ApiAnswer, type Call, CallRefused, forEachOf, listOf, textOf } from './api-client.ts';
import { type Check, endsSoon, isAsPlanned, type Plan } from './plan.ts';
import { type StagedEntry, WIDTH } from './stage.ts';

/** Who does what in the demo, by their tokens. */
export interface Cast {
  organizer: string;
  chief: string;
  inspector: string;
  marshal: string;
}

export interface Scene {
  call: Call;
  cast: Cast;
  eventId: string;
  event: DemoEvent;
  groups: ReadonlyMap<string, string>;
  progress?: ((done: number, all: number) => void) | undefined;
}

interface Play extends Scene {
  /** when what was made to end soon has ended: milliseconds on the server's clock */
  ends: number[];
}

/** So soon a sign-off ends, or a condition falls due, that has to be over when the demo is; a slow machine needs more. */
const SOON_MS = 6000;
const LATER_MS = 45_000;
/** The server's clock comes in whole seconds. */
const CLOCK_STEP_MS = 1000;
const PROGRESS_STEP = 10;
/** Short, so that a demo that was cut off is soon finished by the next. */
const LEASE_MINUTES = 2;

interface Decision {
  decision: 'accept' | 'accept-with-conditions' | 'refuse';
  checks?: readonly Check[];
  note?: string;
  conditions?: readonly { text: string; dueAt?: string }[];
  validUntil?: string;
}

async function entrantToken({ call, cast }: Scene, { entry, entryId }: StagedEntry): Promise<string> {
  const body = { role: 'entrant', holder: entry.driver, entryId };
  return textOf(await call('POST', '/v1/tokens', { token: cast.organizer, body }), 'token');
}

async function submit(scene: Scene, staged: StagedEntry): Promise<ApiAnswer> {
  const { entry, entryId } = staged;
  const token = await entrantToken(scene, staged);
  const body = { answers: demoAnswers(entry, scene.event.startsOn) };
  const answer = await scene.call('POST', `/v1/entries/${entryId}/inspections`, {
    token,
    body,
    idempotencyKey: randomUUID(),
  });
  if (answer.body['verdict'] === entry.verdict) return answer;
  throw new Error(
    `car ${entry.number} (${entry.group}) must be ${entry.verdict} and is ${String(answer.body['verdict'])}`,
  );
}

/**
 * A check for every point that must be looked at: what the plan gives goes before a look, and where a value is asked the
 * line finds what was declared.
 */
function checksOf(claim: ApiAnswer, planned: readonly Check[]): unknown[] {
  const toLookAt = listOf(claim, 'pointsToCheck').filter(({ asked }) => asked !== 'usual' && asked !== 'felt');
  const seen = toLookAt.flatMap(({ item, position, needsValue, declared }) => {
    if (planned.some((one) => one.item === item)) return [];
    const found = needsValue === true && declared !== undefined ? { value: valueOf(declared) } : { result: 'ok' };
    return [{ item, ...(position !== undefined && { position }), ...found }];
  });
  return [...planned, ...seen];
}

/** What was declared at a place, in the form of an answer: the only value, or its parts. */
function valueOf(declared: unknown): unknown {
  const parts = Object.entries(declared as Record<string, unknown>);
  const [first] = parts;
  return parts.length === 1 && first?.[0] === 'value' ? first[1] : Object.fromEntries(parts);
}

/** A car that an earlier run had in its hands when it was cut off is free when that lease ends. */
async function claimPatiently(claim: () => Promise<ApiAnswer>): Promise<ApiAnswer> {
  try {
    return await claim();
  } catch (error) {
    const until = error instanceof CallRefused ? error.body['expiresAt'] : undefined;
    if (typeof until !== 'string') throw error;
    await sleep(Math.max(0, Date.parse(until) - Date.now()) + CLOCK_STEP_MS);
    return claim();
  }
}

async function signOff(scene: Play, { entry }: StagedEntry, decide: (endsAt: Date) => Decision): Promise<void> {
  const { call, cast, eventId, groups } = scene;
  const token = cast.inspector;
  const wanted = { carNumber: entry.number, runGroupId: groups.get(entry.group), leaseMinutes: LEASE_MINUTES };
  const claim = await claimPatiently(() => call('POST', `/v1/events/${eventId}/line/claims`, { token, body: wanted }));
  const sign = async (waitMs: number): Promise<void> => {
    const endsAt = new Date(claim.at.getTime() + waitMs);
    const { checks = [], ...decision } = decide(endsAt);
    const sticker = decision.decision === 'refuse' ? {} : { stickerNumber: `${entry.group.charAt(0)}-${entry.number}` };
    const body = { ...decision, ...sticker, checks: checksOf(claim, checks) };
    const path = `/v1/claims/${textOf(claim, 'claimId')}/sign-off`;
    await call('POST', path, { token, body, idempotencyKey: randomUUID() });
    if (endsSoon(entry)) scene.ends.push(endsAt.getTime());
  };
  await sign(SOON_MS).catch(async (error: unknown) => {
    // On a busy machine "soon" may be over before the server hears of it.
    if (!(error instanceof CallRefused) || !endsSoon(entry)) throw error;
    await sign(LATER_MS);
  });
}

const BOILS_AT = [{ item: 'brake-fluid.measured-boiling-point', value: 246 }];
const boils = (staged: StagedEntry) => (staged.entry.group === 'Advanced' ? BOILS_AT : []);

function conditionOf(scene: Scene, plan: Plan & { does: 'accept-with-conditions' }, endsAt: Date) {
  if (plan.due === undefined) return { text: plan.condition };
  return { text: plan.condition, dueAt: plan.due === 'soon' ? endsAt.toISOString() : secondMorning(scene.event) };
}

async function concede(scene: Play, staged: StagedEntry, plan: Plan & { does: 'concede' }): Promise<void> {
  const { call, cast, event } = scene;
  const body = { ruleId: plan.ruleId, reason: plan.reason, expiresAt: secondMorning(event) };
  await unlessDone(call('POST', `/v1/entries/${staged.entryId}/concessions`, { token: cast.chief, body }));
  await signOff(scene, staged, () => ({ decision: 'accept', checks: plan.checks }));
}

async function afterSubmit(scene: Play, staged: StagedEntry): Promise<void> {
  const { call, cast } = scene;
  const { plan } = staged.entry;
  const path = `/v1/entries/${staged.entryId}`;
  switch (plan.does) {
    case 'accept':
      return signOff(scene, staged, (endsAt) => ({
        decision: 'accept',
        checks: plan.checks ?? boils(staged),
        ...(plan.expires && { validUntil: endsAt.toISOString() }),
      }));
    case 'accept-with-conditions':
      return signOff(scene, staged, (endsAt) => ({
        decision: 'accept-with-conditions',
        checks: boils(staged),
        conditions: [conditionOf(scene, plan, endsAt)],
      }));
    case 'refuse':
      return signOff(scene, staged, () => ({ decision: 'refuse', note: plan.note, checks: plan.checks ?? [] }));
    case 'hold':
      if (!ADMITTED.includes(staged.status))
        await signOff(scene, staged, () => ({ decision: 'accept', checks: boils(staged) }));
      await call('POST', `${path}/holds`, { token: cast.chief, body: { reason: plan.reason } });
      return undefined;
    case 'concede':
      return concede(scene, staged, plan);
    case 'withdraw':
      await call('POST', `${path}/withdraw`, { token: cast.organizer, body: { reason: plan.reason } });
      return undefined;
    case 'nothing':
    case 'save':
    case 'submit':
      return undefined;
  }
}

/** What an earlier run that was cut off did already is refused, and that is well. */
async function unlessDone(call: Promise<unknown>): Promise<void> {
  await call.catch((error: unknown) => {
    if (!(error instanceof CallRefused) || (error.status !== 409 && error.status !== 412)) throw error;
  });
}

const ADMITTED = ['clear', 'clear-with-conditions'];

/** Whether an earlier run took the entry as far as it goes; what ends soon may not have ended yet. */
function isPlayed({ entry, status }: StagedEntry): boolean {
  return isAsPlanned(entry, status) || (endsSoon(entry) && ADMITTED.includes(status));
}

/** Takes one entry as far as its plan says, from where it is. @throws Error naming the call or the car that went otherwise */
async function playEntry(scene: Play, staged: StagedEntry): Promise<void> {
  const { entry, entryId } = staged;
  if (entry.plan.does === 'nothing') return;
  if (entry.plan.does === 'save') {
    const token = await entrantToken(scene, staged);
    const body = { answers: demoAnswers(entry, scene.event.startsOn) };
    await unlessDone(scene.call('PUT', `/v1/entries/${entryId}/declaration`, { token, body, ifMatch: '"0"' }));
    return;
  }
  if (isPlayed(staged)) return;
  if (staged.status === 'no-declaration') await submit(scene, staged);
  await afterSubmit(scene, staged);
}

/** Plays many at the same time; what ends soon goes first, and has ended when this is done. */
export async function playEntries(scene: Scene, entries: readonly StagedEntry[]): Promise<void> {
  const play: Play = { ...scene, ends: [] };
  const sorted = entries.toSorted((a, b) => Number(endsSoon(b.entry)) - Number(endsSoon(a.entry)));
  let done = 0;
  await forEachOf(sorted, WIDTH, async (one) => {
    await playEntry(play, one);
    done += 1;
    if (done % PROGRESS_STEP === 0) scene.progress?.(done, sorted.length);
  });
  const { at } = await scene.call('GET', '/healthz');
  // Of what an earlier run signed off, only the longest time is known.
  const unknown = entries.some((one) => endsSoon(one.entry) && ADMITTED.includes(one.status));
  const last = Math.max(at.getTime(), ...play.ends, ...(unknown ? [at.getTime() + LATER_MS] : []));
  await sleep(last > at.getTime() ? last - at.getTime() + CLOCK_STEP_MS : 0);
}

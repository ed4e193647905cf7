import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { demoAnswers, type DemoEvent, secondMorning } from '../demo-data.ts';
import { type ApiAnswer, type Call, forEachOf, listOf, textOf } from './api-client.ts';
import { type Check, endsSoon, type Plan } from './plan.ts';
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
}

/** So soon a sign-off ends, or a condition falls due, that has to be over when the demo is; a slow machine needs it. */
const SOON_MS = 6000;
/** The server's clock comes in whole seconds. */
const CLOCK_STEP_MS = 1000;

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

/** A check for every point that the rules want to be looked at; what the plan gives goes before "ok". */
function checksOf(claim: ApiAnswer, planned: readonly Check[]): unknown[] {
  const toLookAt = listOf(claim, 'findings').filter((finding) => finding['counts'] === 'inspect');
  const seen = toLookAt.flatMap((finding) => {
    const [item] = finding['items'] as readonly string[];
    if (planned.some((one) => one.item === item)) return [];
    return [{ item, ...(finding['position'] !== undefined && { position: finding['position'] }), result: 'ok' }];
  });
  return [...planned, ...seen];
}

async function signOff(scene: Scene, { entry }: StagedEntry, decide: (now: Date) => Decision): Promise<void> {
  const { call, cast, eventId, groups } = scene;
  const token = cast.inspector;
  const wanted = { carNumber: entry.number, runGroupId: groups.get(entry.group) };
  const claim = await call('POST', `/v1/events/${eventId}/line/claims`, { token, body: wanted });
  const { checks = [], ...decision } = decide(claim.at);
  const sticker = decision.decision === 'refuse' ? {} : { stickerNumber: `${entry.group.charAt(0)}-${entry.number}` };
  await call('POST', `/v1/claims/${textOf(claim, 'claimId')}/sign-off`, {
    token,
    body: { ...decision, ...sticker, checks: checksOf(claim, checks) },
    idempotencyKey: randomUUID(),
  });
}

const BOILS_AT = [{ item: 'brake-fluid.measured-boiling-point', value: 246 }];
const boils = (staged: StagedEntry) => (staged.entry.group === 'Advanced' ? BOILS_AT : []);
const soon = (now: Date): string => new Date(now.getTime() + SOON_MS).toISOString();

function conditionOf(scene: Scene, plan: Plan & { does: 'accept-with-conditions' }, now: Date) {
  if (plan.due === undefined) return { text: plan.condition };
  return { text: plan.condition, dueAt: plan.due === 'soon' ? soon(now) : secondMorning(scene.event) };
}

async function concede(scene: Scene, staged: StagedEntry, plan: Plan & { does: 'concede' }): Promise<void> {
  const { call, cast, event } = scene;
  const body = { ruleId: plan.ruleId, reason: plan.reason, expiresAt: secondMorning(event) };
  await call('POST', `/v1/entries/${staged.entryId}/concessions`, { token: cast.chief, body });
  await signOff(scene, staged, () => ({ decision: 'accept', checks: plan.checks }));
}

async function afterSubmit(scene: Scene, staged: StagedEntry): Promise<void> {
  const { call, cast } = scene;
  const { plan } = staged.entry;
  const path = `/v1/entries/${staged.entryId}`;
  switch (plan.does) {
    case 'accept':
      return signOff(scene, staged, (now) => ({
        decision: 'accept',
        checks: plan.checks ?? boils(staged),
        ...(plan.expires && { validUntil: soon(now) }),
      }));
    case 'accept-with-conditions':
      return signOff(scene, staged, (now) => ({
        decision: 'accept-with-conditions',
        checks: boils(staged),
        conditions: [conditionOf(scene, plan, now)],
      }));
    case 'refuse':
      return signOff(scene, staged, () => ({ decision: 'refuse', note: plan.note, checks: plan.checks ?? [] }));
    case 'hold':
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

/** Takes one entry as far as its plan says. @throws Error naming the call or the car that went otherwise */
async function playEntry(scene: Scene, staged: StagedEntry): Promise<void> {
  const { entry, entryId } = staged;
  if (entry.plan.does === 'nothing') return;
  if (entry.plan.does === 'save') {
    const token = await entrantToken(scene, staged);
    const body = { answers: demoAnswers(entry, scene.event.startsOn) };
    await scene.call('PUT', `/v1/entries/${entryId}/declaration`, { token, body, ifMatch: '"0"' });
    return;
  }
  await submit(scene, staged);
  await afterSubmit(scene, staged);
}

/** Plays many at the same time; what ends soon goes first, and has ended when this is done. */
export async function playEntries(scene: Scene, entries: readonly StagedEntry[]): Promise<void> {
  const [first, others] = [true, false].map((soonOnly) => entries.filter(({ entry }) => endsSoon(entry) === soonOnly));
  const play = (some: readonly StagedEntry[] = []) => forEachOf(some, WIDTH, (one) => playEntry(scene, one));
  await play(first);
  const over = sleep(SOON_MS + CLOCK_STEP_MS);
  await Promise.all([play(others), over]);
}

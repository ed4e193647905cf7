import { randomUUID } from 'node:crypto';
import { goodAnswers, thinPadAnswers } from '../e2e/club.ts';
import type { Field } from './field.ts';
import type { Intent, Operation, OperationKind, Recorded } from './history.ts';
import { type ChiefStep, type InspectorStep, type OfficeStep, planClients } from './plan.ts';
import { type Call, type Caller, newCaller, pause, type Try } from './request.ts';

/** Everybody at work; `stop` lets each finish what it is doing. */
export interface Workload {
  stop(): Promise<void>;
}

const RETRY_FOR_MS = 12_000;
// Not looked for in reply to a marshal's next question: fast enough to meet every change, and the machine is shared.
const MARSHAL_PAUSE_MS = 15;

interface Client {
  name: string;
  caller: Caller;
  record: Recorded;
  field: Field;
  going(): boolean;
  /** waits, but not beyond the end of the work */
  rest(ms: number): Promise<void>;
}

/** Sets entrants, inspectors, chiefs and marshals to work on the field of cars. */
export function startWorkload(field: Field, seed: number, record: Recorded): Workload {
  const stopping = new AbortController();
  const plans = planClients(seed);
  const { cars, crew, bases } = field;
  let number = 0;
  const start = (name: string, work: (client: Client) => Promise<void>) => {
    const caller = newCaller(bases, number++, record);
    const rest = async (ms: number) => {
      const until = performance.now() + ms;
      while (!stopping.signal.aborted && performance.now() < until) await pause(Math.min(50, ms));
    };
    return work({ name, caller, record, field, going: () => !stopping.signal.aborted, rest });
  };
  const working = [
    ...cars.map((_, car) => start(`entrant ${car}`, (client) => enter(client, car, plans.entrant(car)))),
    ...crew.inspectors.map((_, place) =>
      start(`inspector ${place}`, (client) => inspect(client, place, plans.inspector(place, cars.length))),
    ),
    ...crew.chiefs.map((_, place) =>
      start(`chief ${place}`, (client) => holdAndLift(client, place, plans.chief(place, cars.length))),
    ),
    start('office', (client) => importFiles(client, plans.office())),
    ...crew.marshals.map((_, place) =>
      start(`marshal ${place}`, (client) => lookUp(client, place, plans.marshal(place, cars.length))),
    ),
  ];
  return {
    async stop() {
      stopping.abort();
      await Promise.all(working);
    },
  };
}

interface Ask {
  kind: OperationKind;
  entryId: string;
  marker: string;
  intent: Intent;
  call: Call;
  /** names of the ids to keep from the answer */
  ids: readonly string[];
}

/** Does one operation and records it: with a key until it is answered, without one a single time. */
async function operate(client: Client, ask: Ask): Promise<Pick<Operation, 'outcome' | 'status' | 'ids' | 'entryId'>> {
  const from = performance.now();
  const { last, doubtful } =
    ask.call.key === undefined
      ? { last: await client.caller.once(ask.call), doubtful: false }
      : await client.caller.untilAnswered(ask.call, RETRY_FOR_MS);
  const outcome = outcomeOf(last, doubtful);
  const { status, body } = typeof last === 'object' ? last : { status: 0, body: {} as Record<string, unknown> };
  const entryId = ask.entryId === '' ? idIn(body, 'entryId') : ask.entryId;
  const ids = outcome === 'ok' ? Object.fromEntries(ask.ids.map((name) => [name, idIn(body, name)])) : {};
  const { kind, marker, intent } = ask;
  const to = outcome === 'unknown' ? Infinity : performance.now();
  // Where nobody listened there was no operation; whoever asked takes a breath.
  if (last === 'nobody-there' && !doubtful) await client.rest(100);
  else
    client.record.operations.push({
      kind,
      client: client.name,
      marker,
      entryId,
      from,
      to,
      outcome,
      status,
      intent,
      ids,
    });
  return { outcome, status, ids, entryId };
}

const idIn = (body: Record<string, unknown>, name: string) => (typeof body[name] === 'string' ? body[name] : '');

/** A refusal binds only when nothing before it is still on its way. */
function outcomeOf(last: Try, doubtful: boolean): Operation['outcome'] {
  if (typeof last === 'string') return last === 'nobody-there' && !doubtful ? 'refused' : 'unknown';
  if (last.status >= 500) return 'unknown';
  if (last.status < 300) return 'ok';
  return doubtful ? 'unknown' : 'refused';
}

async function enter(client: Client, place: number, next: ReturnType<ReturnType<typeof planClients>['entrant']>) {
  const car = client.field.cars[place];
  if (car === undefined) return;
  while (client.going()) {
    const step = next();
    const key = randomUUID();
    const thin = step.answers === 'thin';
    const body = { answers: thin ? thinPadAnswers() : goodAnswers() };
    const path = `/v1/entries/${car.entryId}/inspections`;
    await operate(client, {
      kind: 'submit',
      entryId: car.entryId,
      marker: key,
      intent: { thin },
      call: { method: 'POST', path, token: car.entrant, body, key },
      ids: ['inspectionId'],
    });
    await client.rest(step.pauseMs);
  }
}

async function inspect(client: Client, place: number, next: () => InspectorStep) {
  const { eventId, cars, crew } = client.field;
  const token = crew.inspectors[place]?.token ?? '';
  while (client.going()) {
    const step = next();
    await client.rest(step.pauseMs);
    const number = step.car === undefined ? {} : { carNumber: cars[step.car]?.carNumber };
    const body = { ...number, leaseMinutes: 1 };
    const path = `/v1/events/${eventId}/line/claims`;
    const claim = await operate(client, {
      kind: 'claim',
      entryId: '',
      marker: '',
      intent: {},
      call: { method: 'POST', path, token, body },
      ids: ['claimId', 'ticketId', 'expiresAt'],
    });
    if (claim.outcome !== 'ok' || claim.status !== 201) {
      await client.rest(50);
      continue;
    }
    await workOn(client, { token, step, entryId: claim.entryId, claimId: claim.ids['claimId'] ?? '' });
  }
}

interface Claimed {
  token: string;
  step: InspectorStep;
  entryId: string;
  claimId: string;
}

async function workOn(client: Client, claimed: Claimed): Promise<void> {
  const { token, step, entryId, claimId } = claimed;
  const path = `/v1/claims/${claimId}`;
  const common = { entryId, marker: '', intent: { claimId }, ids: ['claimId'] } as const;
  if (step.renew) {
    await operate(client, { ...common, kind: 'renew', call: { method: 'POST', path: `${path}/renew`, token } });
  }
  await client.rest(step.thinkMs);
  if (step.decide === 'walk-away') return;
  if (step.decide === 'put-back') {
    await operate(client, { ...common, kind: 'put-back', ids: [], call: { method: 'DELETE', path, token } });
    return;
  }
  await signOff(client, claimed, step.decide);
}

/** Signs off, and where the plan says so once more: as a device does that forgot which key it used. */
async function signOff(client: Client, claimed: Claimed, decision: NonNullable<Intent['decision']>): Promise<void> {
  const { token, step, entryId, claimId } = claimed;
  const sign = () => {
    const key = randomUUID();
    const body = { decision, checks: [], ...detailsOf(decision, key) };
    return operate(client, {
      kind: 'sign-off',
      entryId,
      marker: key,
      intent: { decision, claimId },
      call: { method: 'POST', path: `/v1/claims/${claimId}/sign-off`, token, body, key },
      ids: ['signOffId'],
    });
  };
  if (step.twice === 'at-once') await Promise.all([sign(), sign()]);
  else await sign();
  if (step.twice === 'afterwards') await sign();
}

function detailsOf(decision: NonNullable<Intent['decision']>, key: string): Record<string, unknown> {
  if (decision === 'refuse') return { note: 'leaks oil at the sump' };
  const stickerNumber = key.replaceAll('-', '').slice(0, 12);
  return decision === 'accept'
    ? { stickerNumber }
    : { stickerNumber, conditions: [{ text: 'wheel torque again after the first session' }] };
}

async function holdAndLift(client: Client, place: number, next: () => ChiefStep) {
  const { cars, crew } = client.field;
  const token = crew.chiefs[place]?.token ?? '';
  // Each chief has cars of his own, so that a hold he does not know about can only be one whose answer he did not get.
  const own = cars.filter((_, car) => car % crew.chiefs.length === place);
  const doubtful = new Set<string>();
  while (client.going()) {
    const step = next();
    await client.rest(step.pauseMs);
    const entryId = own[step.car % own.length]?.entryId ?? '';
    const hold = { token, entryId, required: step.requireReinspection };
    if (doubtful.has(entryId) && !(await liftStanding(client, hold))) continue;
    doubtful.delete(entryId);
    const held = await placeHold(client, { token, entryId, keptMs: step.keptMs });
    if (held.outcome === 'ok') await client.rest(step.heldMs);
    const sure = held.outcome === 'ok' && (await lift(client, { ...hold, holdId: held.ids['holdId'] ?? '' }));
    if (!sure) doubtful.add(entryId);
  }
}

/** Holds a car, at once or as a device does that kept the hold while it had no network: under a key, until somebody answers. */
async function placeHold(client: Client, { token, entryId, keptMs }: Holding) {
  if (keptMs !== undefined) await client.rest(keptMs);
  const reason = `hold ${randomUUID()}`;
  return operate(client, {
    kind: 'hold',
    entryId,
    marker: reason,
    intent: {},
    call: {
      method: 'POST',
      path: `/v1/entries/${entryId}/holds`,
      token,
      body: { reason },
      ...(keptMs === undefined ? {} : { key: randomUUID() }),
    },
    ids: ['holdId'],
  });
}

interface Holding {
  token: string;
  entryId: string;
  keptMs: number | undefined;
}

/** Lifts what the history says still stands; whether that is known to have worked. */
async function liftStanding(client: Client, hold: { token: string; entryId: string; required: boolean }) {
  const path = `/v1/entries/${hold.entryId}/history`;
  const reply = await client.caller.once({ method: 'GET', path, token: hold.token });
  if (typeof reply === 'string' || reply.status !== 200) return false;
  const rows = reply.body['history'] as { data: { event?: { type: string; holdId?: string } } }[];
  const events = rows.flatMap(({ data }) => data.event ?? []);
  const lifted = new Set(
    events.filter(({ type }) => type === 'lifted' || type === 'car-lifted').map(({ holdId }) => holdId),
  );
  const standing = events.filter(({ type, holdId }) => (type === 'held' || type === 'car-held') && !lifted.has(holdId));
  for (const { holdId = '' } of standing) if (!(await lift(client, { ...hold, holdId }))) return false;
  return true;
}

async function lift(client: Client, hold: { token: string; entryId: string; holdId: string; required: boolean }) {
  const reason = `lift ${randomUUID()}`;
  const body = { reason, ...(hold.required ? { requireReinspection: true } : {}) };
  const { outcome } = await operate(client, {
    kind: 'lift',
    entryId: hold.entryId,
    marker: reason,
    intent: { holdId: hold.holdId, requireReinspection: hold.required },
    call: { method: 'POST', path: `/v1/holds/${hold.holdId}/lift`, token: hold.token, body },
    ids: ['holdId'],
  });
  return outcome === 'ok';
}

/** A letter and three digits, each number once: nobody else has such cars. */
const importedNumber = (place: number) =>
  `${String.fromCodePoint(65 + Math.floor(place / 1000))}${String(place % 1000).padStart(3, '0')}`;

/** Files with new cars, which nobody else works on; some are sent again after they were answered, as people do. */
async function importFiles(client: Client, next: () => OfficeStep) {
  const { eventId, club } = client.field;
  let made = 0;
  while (client.going()) {
    const step = next();
    await client.rest(step.pauseMs);
    const carNumbers = Array.from({ length: step.rows }, () => importedNumber(made++));
    const lines = carNumbers.map((number) => `${number},Novice,Entrant of ${number},Coupé`);
    const csv = ['carNumber,runGroup,entrantName,vehicle.description', ...lines].join('\n');
    for (let times = step.again ? 2 : 1; times > 0; times -= 1) {
      await operate(client, {
        kind: 'import',
        entryId: eventId,
        marker: '',
        intent: { carNumbers },
        call: { method: 'POST', path: `/v1/events/${eventId}/entries/import`, token: club.organizer, csv },
        ids: [],
      });
    }
  }
}

async function lookUp(client: Client, place: number, next: () => number) {
  const { eventId, cars, crew } = client.field;
  const token = crew.marshals[place]?.token ?? '';
  while (client.going()) {
    const car = cars[next()];
    if (car === undefined) return;
    await askGate(client, { eventId, car, token });
    await pause(MARSHAL_PAUSE_MS);
  }
}

/** Asks once and records the answer. */
export async function askGate(
  { caller, record }: Pick<Client, 'caller' | 'record'>,
  asked: { eventId: string; car: { entryId: string; carNumber: string }; token: string },
): Promise<void> {
  const { entryId, carNumber } = asked.car;
  const from = performance.now();
  const path = `/v1/events/${asked.eventId}/gate/${carNumber}`;
  const reply = await caller.once({ method: 'GET', path, token: asked.token });
  const to = performance.now();
  if (typeof reply === 'string' || reply.status !== 200) {
    record.unanswered += 1;
    await pause(50);
    return;
  }
  const { admit, status, asOf } = reply.body;
  record.lookups.push({
    entryId,
    carNumber,
    from,
    to,
    admit: admit === true,
    status: String(status),
    asOf: String(asOf),
  });
}

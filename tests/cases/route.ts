import { randomUUID } from 'node:crypto';
import { BUILT_IN_RULE_SET } from '../../seed/built-in.ts';
import { ENDS_ON, STARTS_ON } from '../../seed/examples/example-case.ts';
import type { Prisma } from '../../src/platform/prisma-client/client.ts';
import type { Verdict } from '../../src/domain/rules/model/finding.ts';
import type { TestApp, TestToken } from '../support/app.ts';
import type { Case } from './case.ts';
import { type MadeCheck, measure, type ShownPoint, tick } from './inspectors.ts';
import { countPoints, notTaken, secondsAtLine, type Outcome, type Tried } from './outcome.ts';
import { VENUES, type VenueName } from './venues.ts';

interface Entry {
  entryId: string;
  eventId: string;
  carNumber: string;
  entrant: TestToken;
}

interface Days {
  startsOn: string;
  endsOn: string;
}

const DAYS: Days = { startsOn: STARTS_ON, endsOn: ENDS_ON };
/** the morning of a first day, at the venue: declarations are open, and the gate as well */
const morningOf = ({ startsOn }: Days): string => `${startsOn}T06:30:00Z`;

/** Brings cars through the API: declaration, line, sign-off, gate. One rule set; events and groups are made as needed. */
export class Route {
  readonly #t: TestApp;
  readonly #made = new Map<string, Promise<string>>();
  #number = 0;

  constructor(t: TestApp) {
    this.#t = t;
  }

  /**
   * What becomes of a car with an inspector who only ticks, and with one who measures. Of an honest car nothing hangs on
   * the former, so that he is left out.
   */
  async try(of: Case): Promise<Outcome> {
    const vehicleId = await this.#earlier(of);
    this.#t.clock.set(morningOf(DAYS));
    const entry = await this.#enter(of, DAYS, vehicleId);
    const { verdict, fault } = await this.#declare(entry, of.answers);
    if (verdict === undefined) return notTaken(fault);
    if (verdict === 'barred') {
      const atGate = await this.#gate(entry);
      return { verdict, ticked: atGate, measured: atGate, points: 0, seconds: 0 };
    }
    const { points, claimId } = await this.#claim(entry);
    const lookedAt = { points: countPoints(points), seconds: secondsAtLine(points) };
    const measured = () => this.#sign(entry, claimId, measure(points, of));
    if (of.expected === 'through') return { verdict, measured: await measured(), ...lookedAt };
    const ticked = await this.#sign(entry, claimId, tick(points, of));
    if (!ticked.green) return { verdict, ticked, measured: await measured(), ...lookedAt };
    return { verdict, ticked, measured: ticked, ...lookedAt };
  }

  /** What an inspector gets who measures what a rule asks for, and leaves out what his group looks at on every car. */
  async tryUnseen(of: Case): Promise<Tried> {
    this.#t.clock.set(morningOf(DAYS));
    const entry = await this.#enter(of, DAYS, undefined);
    await this.#declare(entry, of.answers);
    const { claimId, points } = await this.#claim(entry);
    const asked = points.filter((point) => point.asked !== 'always');
    return this.#sign(entry, claimId, measure(asked, of));
  }

  /** Earlier events of the car: entered, declared and accepted there. Answers the car's own id, if there were any. */
  async #earlier(of: Case): Promise<string | undefined> {
    let vehicleId: string | undefined;
    for (const { answers, ...days } of of.earlier) {
      this.#t.clock.set(morningOf(days));
      const entry = await this.#enter(of, days, vehicleId);
      const { verdict = 'not taken' } = await this.#declare(entry, answers);
      const { claimId, points } = await this.#claim(entry);
      const signed = await this.#sign(entry, claimId, measure(points, { ...of, answers, measures: {} }));
      if (!signed.green) throw new Error(`${of.id}: not accepted at an earlier event, ${verdict}: ${signed.reason}`);
      const { body } = await this.#t.api('organizer').get(`/v1/entries/${entry.entryId}`).expect(200);
      vehicleId = body.vehicleId;
    }
    return vehicleId;
  }

  async #enter(of: Case, days: Days, vehicleId: string | undefined): Promise<Entry> {
    const eventId = await this.#event(of.venue ?? 'club', days);
    const runGroupId = await this.#group(eventId, days, of);
    this.#number += 1;
    const carNumber = String(this.#number);
    const car = vehicleId === undefined ? { vehicle: of.vehicle } : { vehicleId };
    const { body } = await this.#t
      .api('organizer')
      .post(`/v1/events/${eventId}/entries`)
      .send({ carNumber, runGroupId, entrant: { name: `Entrant of ${carNumber}` }, ...car })
      .expect(201);
    const { entryId } = body;
    // as the owner writes it by the link of his car; a car from an earlier event was seen there
    if (vehicleId === undefined && Object.keys(of.origins).length > 0) {
      const origins = { ...of.origins } as unknown as Prisma.InputJsonObject; // plain values only
      await this.#t.deps.db.prisma.vehicle.update({ where: { id: body.vehicleId }, data: { origins } });
    }
    const entrant = await this.#t.mint('entrant', { holder: `Entrant of ${carNumber}`, entryId });
    return { entryId, eventId, carNumber, entrant };
  }

  async #declare(
    { entryId, entrant }: Entry,
    answers: Case['answers'],
  ): Promise<{ verdict: Verdict; fault?: never } | { verdict?: never; fault: string }> {
    const { status, body } = await this.#t
      .api(entrant)
      .post(`/v1/entries/${entryId}/inspections`)
      .set('idempotency-key', randomUUID())
      .send({ answers });
    return status === 201 ? { verdict: body.verdict } : { fault: body.detail };
  }

  async #claim({ eventId, carNumber }: Entry): Promise<{ claimId: string; points: ShownPoint[] }> {
    const { body } = await this.#t
      .api('inspector')
      .post(`/v1/events/${eventId}/line/claims`)
      .send({ carNumber })
      .expect(201);
    return { claimId: body.claimId, points: body.pointsToCheck };
  }

  async #sign(entry: Entry, claimId: string, checks: readonly MadeCheck[]): Promise<Tried> {
    const { status, body } = await this.#t
      .api('inspector')
      .post(`/v1/claims/${claimId}/sign-off`)
      .set('idempotency-key', randomUUID())
      .send({ decision: 'accept', stickerNumber: `S${randomUUID().slice(0, 8)}`, checks });
    if (status !== 201 && status !== 409) throw new Error(`${entry.carNumber}: ${JSON.stringify(body)}`);
    const gate = await this.#gate(entry);
    return status === 201 ? gate : { green: gate.green, reason: `${body.detail} ${gate.reason}` };
  }

  async #gate({ eventId, carNumber }: Entry): Promise<Tried> {
    const { body } = await this.#t.api('marshal').get(`/v1/events/${eventId}/gate/${carNumber}`).expect(200);
    return { green: body.admit, reason: body.reason };
  }

  #once(key: string, make: () => Promise<string>): Promise<string> {
    const made = this.#made.get(key) ?? make();
    this.#made.set(key, made);
    return made;
  }

  #ruleSet(): Promise<string> {
    return this.#once('rules', async () => {
      const api = this.#t.api('organizer');
      const draft = await api.post('/v1/rule-sets').send({ name: 'Built in', document: BUILT_IN_RULE_SET }).expect(201);
      const { ruleSetId } = draft.body;
      await api
        .post(`/v1/rule-sets/${ruleSetId}/publish`)
        .set('if-match', draft.headers['etag'] ?? '')
        .send({ changelog: 'First version' })
        .expect(201);
      return ruleSetId;
    });
  }

  #event(venue: VenueName, days: Days): Promise<string> {
    return this.#once(`${venue} ${days.startsOn}`, async () => {
      const api = this.#t.api('organizer');
      const at = { name: `Circuit ${venue}`, timeZone: 'Europe/Berlin', ...VENUES[venue] };
      const { body } = await api.post('/v1/venues').send(at).expect(201);
      const event = await api
        .post('/v1/events')
        .send({
          ...days,
          name: `Cases at ${venue}, ${days.startsOn}`,
          venueId: body.venueId,
          declarationsOpenAt: '2025-01-01T06:00:00Z',
          declarationsCloseAt: `${days.endsOn}T18:00:00Z`,
        })
        .expect(201);
      return event.body.eventId;
    });
  }

  #group(eventId: string, { startsOn }: Days, { parameters }: Case): Promise<string> {
    return this.#once(`${eventId} ${JSON.stringify(parameters)}`, async () => {
      const ruleSetId = await this.#ruleSet();
      const order = this.#made.size;
      const group = { name: `Group ${order}`, order, firstSessionAt: `${startsOn}T07:00:00Z` };
      const { body } = await this.#t
        .api('organizer')
        .post(`/v1/events/${eventId}/run-groups`)
        .send({ ...group, ruleSetId, ruleSetVersion: 1, parameters })
        .expect(201);
      return body.runGroupId;
    });
  }
}

import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { changeAnswers, goodAnswers } from '../../seed/answers.ts';
import { BUILT_IN_RULE_SET } from '../../seed/built-in.ts';
import { CARS } from '../../seed/cars.ts';
import { RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { wholeRevision } from '../support/form.ts';
import { sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const explain = (inspectionId: string, ruleId: string, as: 'marshal' | TestToken = 'marshal') =>
  t.api(as).get(`/v1/inspections/${inspectionId}/findings/${ruleId}`);

interface Position {
  position?: string;
  [key: string]: unknown;
}
const at = (view: { positions: Position[] }, position?: string) =>
  view.positions.find((one) => one.position === position);

/** The small answers with one pad of another thickness. */
const withPad = (value: unknown) => ({
  ...GOOD_ANSWERS,
  'pad.thickness': { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': value },
});

async function declared(answers: unknown, overrides: Record<string, unknown> = {}) {
  const entry = await createTestEntry(t, event, overrides);
  const answer = await submit(t, entry, answers);
  expect(answer.status).toBe(201);
  return { entry, inspection: answer.body };
}

describe('an explanation', () => {
  test('tells rule, input as sent and as judged, limit with its origin, comparison and what it counts', async () => {
    // NIST SP 811, appendix B.8: 1 in = 25.4 mm exactly; 3/16 in is 6/32 in = 4.7625 mm, kept as 4.8 mm
    const { entry, inspection } = await declared(withPad({ value: 6, unit: '1/32in' }), { runGroupId: event.advanced });
    const { status, body } = await explain(inspection.inspectionId, 'pad-thickness', entry.entrant);
    expect(status).toBe(200);
    expect(body).toMatchObject({
      entryId: entry.entryId,
      carNumber: entry.carNumber,
      applies: true,
      judgedAgain: 'same',
      rule: {
        text: '"Friction material thickness" must be at least 6 mm at each position.',
        effect: 'bar',
        watch: false,
        origin: { from: 'rule-set', version: 1 },
        basis: { kind: 'common-practice' },
      },
    });
    expect(body.parameters).toEqual([
      {
        name: 'padMinimum',
        value: 6,
        unit: 'mm',
        text: '6 mm',
        meaning: 'Least friction material',
        origin: { from: 'run-group', version: 1, was: { value: 4, unit: 'mm', text: '4 mm' } },
      },
    ]);
    expect(body.positions).toHaveLength(8);
    expect(body).not.toHaveProperty('atLine');
    const { finding, ...thin } = at(body, 'FL.in') ?? {};
    expect(finding).toEqual(
      inspection.findings.find((one: Position) => one['ruleId'] === 'pad-thickness' && one.position === 'FL.in'),
    );
    expect(thin).toEqual({
      position: 'FL.in',
      inWords: expect.stringMatching(/you declared 4\.8 mm \(6\/32 in as written\); asked for is at least 6 mm/u),
      inputs: [
        {
          item: 'pad.thickness',
          label: 'Friction material thickness',
          position: 'FL.in',
          sent: { value: 6, unit: '1/32in' },
          sentText: '6/32 in',
          value: 4.8,
          unit: 'mm',
          valueText: '4.8 mm',
          by: 'entrant',
        },
      ],
      records: [],
      facts: [],
      // outside by two U of a gauge in steps of 1 mm
      certainty: {
        value: 4.8,
        unit: 'mm',
        atLeast: 6,
        uncertainty: 0.6,
        instrument: 'pad gauge in steps of 1 mm',
        by: 'usual',
        decision: 'simple',
        guardBand: 0,
        conformity: 0,
      },
      comparison: { text: '4.8 mm ≥ 6 mm is not so, short by 1.2 mm', holds: false },
      counts: 'bar',
      countsBecause: 'The rule bars: the car may not go on track until it is met.',
    });
  });

  test('says which day an age was counted to, and what is missing', async () => {
    const { 'brake-fluid.flushed-on': _, ...without } = GOOD_ANSWERS;
    const { inspection } = await declared(without);
    const { body } = await explain(inspection.inspectionId, 'fluid-age');
    expect(body.positions[0]).toMatchObject({
      records: [{ from: 'event', name: 'endsOn', label: 'last event day', value: '2026-06-14' }],
      comparison: { holds: null },
      counts: 'bar',
      countsBecause: expect.stringMatching(/^What is not known counts like not met/u),
    });
  });

  test('keeps telling what was judged when everything about it has changed since', async () => {
    const { entry, inspection } = await declared(withPad(5));
    const before = (await explain(inspection.inspectionId, 'pad-thickness')).body;
    await t
      .api('organizer')
      .patch(`/v1/entries/${entry.entryId}`)
      .set('if-match', '*')
      .send({
        vehicle: { description: 'Another car' },
      });
    // past the API: what a run group is set to now must not matter, however it got there
    await sql(t, `UPDATE run_groups SET parameters = '{"padMinimum": {"value": 9}}' WHERE id = $1`, [event.novice]);
    t.clock.set('2026-06-20T08:00:00Z');
    expect((await explain(inspection.inspectionId, 'pad-thickness')).body).toEqual(before);
    await sql(t, `UPDATE run_groups SET parameters = '{"padMinimum": {"unit": "mm", "value": 4}}' WHERE id = $1`, [
      event.novice,
    ]);
  });

  test('of a rule that a venue changed names the venue and its reason', async () => {
    const changed = await createTestEvent(t);
    const path = `/v1/venues/${changed.venueId}/overlays/${changed.ruleSetId}`;
    const overlay = {
      parameters: { fluidMaxAge: { value: 6, unit: 'month' } },
      effects: {
        'radiator-clear': { watch: true, reason: 'Tried out this year' },
        'mats-out': { effect: 'inspect', reason: 'Steep pit lane' },
      },
      rules: [],
    };
    expect((await t.api('organizer').put(path).set('if-match', '"0"').send(overlay)).status).toBe(200);
    const patch = t.api('organizer').patch(`/v1/events/${changed.eventId}/run-groups/${changed.novice}`);
    expect((await patch.set('if-match', '*').send({ takeVenueRules: true })).status).toBe(200);
    const entry = await createTestEntry(t, changed);
    const bad = { ...GOOD_ANSWERS, 'radiator.debris': 'some', 'body.floor-mats-out': false };
    const { body } = await submit(t, entry, bad);
    const mats = (await explain(body.inspectionId, 'mats-out')).body;
    expect(mats).toMatchObject({
      judgedAgain: 'same',
      rule: {
        effect: 'inspect',
        origin: {
          from: 'rule-set',
          version: 1,
          changed: { by: 'venue', reason: 'Steep pit lane', was: { effect: 'advise', watch: false } },
        },
      },
    });
    const age = (await explain(body.inspectionId, 'fluid-age')).body;
    expect(age.parameters[0]).toMatchObject({
      value: 6,
      origin: { from: 'venue', was: { value: 12, unit: 'month', text: '12 months' } },
    });
    const watched = (await explain(body.inspectionId, 'radiator-clear')).body;
    expect(watched).toMatchObject({ judgedAgain: 'same', rule: { watch: true, origin: { changed: { by: 'venue' } } } });
    expect(watched.positions[0]).toMatchObject({ counts: 'no', comparison: { holds: false } });
    expect(watched.positions[0].countsBecause).toContain('on watch');
  });

  test('of a conceded rule names the concession', async () => {
    const { entry } = await declared(withPad(3.5));
    const expiresAt = '2026-06-13T12:00:00.000Z';
    const granted = await t
      .api('chief')
      .post(`/v1/entries/${entry.entryId}/concessions`)
      .send({ ruleId: 'pad-thickness', reason: 'New pads arrive on Saturday', expiresAt });
    expect(granted.status).toBe(201);
    const again = await submit(t, entry, withPad(3.5));
    const { body } = await explain(again.body.inspectionId, 'pad-thickness');
    expect(body.judgedAgain).toBe('same');
    expect(at(body, 'FL.in')).toMatchObject({ counts: 'inspect', comparison: { holds: false } });
    expect(at(body, 'FL.in')?.['countsBecause']).toContain(`a concession covers it until ${expiresAt}`);
    // after its end the stored judgement is still what it was
    t.clock.set('2026-06-14T12:00:00Z');
    expect((await explain(again.body.inspectionId, 'pad-thickness')).body).toEqual(body);
  });
});

describe('at the line', () => {
  const lineOf = async (entry: TestEntry, body: Record<string, unknown>) => {
    const claimed = await claim(t, event, entry.carNumber);
    const signed = await signOff(t, claimed.body.claimId, body);
    expect(signed.status).toBe(201);
  };

  test('what was measured stands beside what was declared', async () => {
    const { entry, inspection } = await declared(GOOD_ANSWERS);
    const checks = [
      { item: 'pad.thickness', position: 'FL.in', value: { value: 0.35, unit: 'cm' } },
      { item: 'pad.thickness', position: 'FR.in', value: 7 },
      { item: 'pad.thickness', position: 'FR.in', value: 6.5 },
    ];
    await lineOf(entry, { decision: 'refuse', note: 'Thin pad', checks });
    const { body } = await explain(inspection.inspectionId, 'pad-thickness', entry.entrant);
    expect(body.judgedAgain).toBe('same');
    expect(at(body, 'FL.in')).toMatchObject({ comparison: { text: '8 mm ≥ 4 mm is so, with 4 mm to spare' } });
    expect(body.atLine).toMatchObject({
      decision: 'refuse',
      signedBy: 'Test inspector',
      judgedAgain: 'same',
      seen: [],
    });
    expect(at(body.atLine, 'FL.in')).toMatchObject({
      comparison: { text: '3.5 mm ≥ 4 mm is not so, short by 0.5 mm', holds: false },
      inputs: [{ sentText: '0.35 cm', value: 3.5, by: 'inspector' }],
    });
    // the later of two measurements of one point wins
    expect(at(body.atLine, 'FR.in')).toMatchObject({ inputs: [{ value: 6.5, by: 'inspector' }] });
    expect(at(body.atLine, 'RL.in')).toMatchObject({ inputs: [{ value: 8, by: 'entrant' }] });
  });

  test('what was seen turns the finding and not the comparison', async () => {
    const { entry, inspection } = await declared(GOOD_ANSWERS);
    const checks = [{ item: 'pad.thickness', position: 'FL.in', result: 'not-ok', note: 'Cracked' }];
    await lineOf(entry, { decision: 'refuse', note: 'Cracked pad', checks });
    const { body } = await explain(inspection.inspectionId, 'pad-thickness');
    expect(body.atLine).toMatchObject({
      judgedAgain: 'same',
      seen: [{ item: 'pad.thickness', position: 'FL.in', result: 'not-ok', note: 'Cracked' }],
    });
    const seen = at(body.atLine, 'FL.in');
    expect(seen).toMatchObject({ comparison: { holds: true }, finding: { result: 'not-met' }, counts: 'bar' });
    expect(seen?.['inWords']).toContain('The inspector looked and marked it not ok.');
  });
});

describe('a rule without a finding', () => {
  const CARBON = { description: 'Invented', rotor: { front: 'carbon', rear: 'carbon' } };
  const RULES = {
    name: 'Rules that do not always apply',
    parameters: {},
    rules: [
      {
        id: 'rotor-thickness',
        title: 'Rotor thickness',
        items: ['rotor.thickness'],
        test: { kind: 'limit', item: 'rotor.thickness', atLeast: { value: 20 } },
        effect: 'bar',
        message: 'Too thin.',
        fix: 'Fit new rotors.',
        basis: { kind: 'common-practice' },
      },
      {
        id: 'pedal-of-a-long-travel',
        title: 'Brake pedal',
        items: ['brake.pedal'],
        when: 'has(brake.pedal) && brake.pedal == "long"',
        test: { kind: 'one-of', item: 'brake.pedal', values: ['firm'] },
        effect: 'inspect',
        message: 'Long.',
        fix: 'Bleed it.',
        basis: { kind: 'common-practice' },
      },
    ],
    examples: [],
  };

  test('says why it does not apply; one that does not exist is not found', async () => {
    const other = await createTestEvent(t, RULES);
    const entry = await createTestEntry(t, other, { vehicle: CARBON });
    const { body } = await submit(t, entry, { 'brake.pedal': 'firm' });
    const rotor = await explain(body.inspectionId, 'rotor-thickness');
    expect(rotor.status).toBe(200);
    expect(rotor.body).toMatchObject({ applies: false, positions: [], judgedAgain: 'same' });
    expect(rotor.body.reason).toContain('this car: front carbon, rear carbon');
    const pedal = (await explain(body.inspectionId, 'pedal-of-a-long-travel')).body;
    expect(pedal).toMatchObject({ applies: false, rule: { condition: { expression: RULES.rules[1]?.when } } });
    expect(pedal.reason).toContain('"Brake pedal" is long, and that is not so here');
    const none = await explain(body.inspectionId, 'no-such-rule');
    expect(none.status).toBe(404);
    expect(none.body.detail).toContain('rule');
    expect((await explain(body.inspectionId, 'Not%20An%20Id')).status).toBe(400);
  });
});

describe('who may read it', () => {
  test('staff and the own entrant; to another it does not exist', async () => {
    const { entry, inspection } = await declared(GOOD_ANSWERS);
    const other = await createTestEntry(t, event);
    expect((await explain(inspection.inspectionId, 'pedal-firm', entry.entrant)).status).toBe(200);
    const foreign = await explain(inspection.inspectionId, 'pedal-firm', other.entrant);
    const missing = await explain('019ab8f0-0000-7000-8000-00000000dead', 'pedal-firm', other.entrant);
    expect([foreign.status, missing.status]).toEqual([404, 404]);
    expect(foreign.body.detail).toBe(missing.body.detail);
    expect((await t.api(undefined).get(`/v1/inspections/${inspection.inspectionId}/findings/pedal-firm`)).status).toBe(
      401,
    );
  });
});

describe('the built-in rules', () => {
  // the stored answers judged again by the stored rules must give the same findings, byte for byte (canonical JSON)
  test.each([
    ['a good car', 'coupe', {}],
    [
      'a poor one',
      'hatch',
      {
        'pad.thickness@*': 3.2,
        'brake.pedal': 'spongy',
        'tyre.tread@*': { value: 2, unit: '1/32in' },
        'oil.grade': null,
      },
    ],
  ] as const)('explain every rule on %s, and judge it again the same', async (_what, kind, changes) => {
    const whole = RuleSet.parse(BUILT_IN_RULE_SET);
    const built = await createTestEvent(t, { ...whole, examples: [] });
    const vehicle = CARS[kind];
    const entry = await createTestEntry(t, built, { vehicle });
    const answers = changeAnswers(goodAnswers(vehicle, '2026-06-13'), changes, vehicle);
    const submitted = await submit(t, entry, answers);
    expect(submitted.status).toBe(201);
    let findings = 0;
    for (const rule of whole.rules) {
      const { status, body } = await explain(submitted.body.inspectionId, rule.id);
      expect([status, body.judgedAgain], rule.id).toEqual([200, 'same']);
      expect(body.applies ? body.positions.length > 0 : body.reason.length > 10, rule.id).toBe(true);
      findings += body.positions.length;
    }
    expect(findings).toBe((await wholeRevision(t, submitted.body)).findings.length);
    expect(findings).toBe(submitted.body.tally.all);
  });
});

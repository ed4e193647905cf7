import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { parseAnswers } from '../../src/domain/declaration/declaration.ts';
import { compileRuleSet, evaluate } from '../../src/domain/rules/judge/evaluate.ts';
import type { Finding, Judgement } from '../../src/domain/rules/model/finding.ts';
import { RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import { trialJob } from '../../src/features/rules/trials/trial.job.ts';
import { listInspections, type StoredInspection } from '../../src/records/judging/inspections.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, SMALL_RULE_SET, submit, type TestEvent } from '../support/event.ts';
import { runOrdered } from '../support/jobs.ts';
import { ordered, sql } from '../support/records.ts';
import { answersWith, FIVE_PADS, rulesWith, trialsOf } from '../support/trials.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;
let event: TestEvent;
const { draft, start, read, tryOut, enter } = trialsOf(() => ({ t, event }));

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
});

describe('a trial', () => {
  test('is ordered with its job, waits, and is read when it is done', async () => {
    const entry = await enter(4.5);
    await draft(FIVE_PADS);
    const answer = await start();
    expect(answer.status).toBe(202);
    const { trialId } = answer.body;
    expect(answer.headers['location']).toBe(`/v1/trials/${trialId}`);
    expect(await ordered(t, answer)).toEqual([{ name: 'rule-set.trial', payload: { trialId }, runAt: undefined }]);
    expect(await read(trialId)).toMatchObject({
      state: 'waiting',
      done: 0,
      total: null,
      requestedBy: 'Test organizer',
    });
    await runOrdered(t, answer, trialJob);
    const done = await read(trialId);
    expect(done).toMatchObject({ state: 'done', done: 1, total: 1, ruleSetId: event.ruleSetId });
    expect(done.tried).toEqual({ contentHash: expect.stringMatching(/^[0-9a-f]{64}$/) });
    expect(done.result.totals).toMatchObject({ judged: 1, flipped: 1, newlyBarred: 1 });
    expect(done.result.flips).toEqual([
      {
        entryId: entry.entryId,
        carNumber: entry.carNumber,
        eventId: event.eventId,
        runGroupId: event.novice,
        inspectionId: expect.any(String),
        accepted: false,
        before: 'clean',
        after: 'barred',
        because: [
          {
            ruleId: 'pad-thickness',
            title: 'Brake pad friction material',
            position: 'FL.in',
            before: {
              result: 'met',
              counts: 'no',
              measured: { value: 4.5, unit: 'mm' },
              limit: '≥ 4 mm',
              margin: { value: 0.5, unit: 'mm' },
              message: '',
            },
            after: {
              result: 'not-met',
              counts: 'bar',
              measured: { value: 4.5, unit: 'mm' },
              limit: '≥ 5 mm',
              margin: { value: -0.5, unit: 'mm' },
              message: 'The pad is too thin to last the event.',
            },
          },
        ],
      },
    ]);
    // 0.5 mm of a limit of 5 mm
    expect(done.result.nearest.notMet).toMatchObject([{ carNumber: entry.carNumber, measured: 4.5, relative: 0.1 }]);
  });

  test('tries the draft as it was when it was ordered', async () => {
    await enter(4.5);
    await draft(FIVE_PADS);
    const answer = await start();
    await draft(SMALL_RULE_SET);
    await runOrdered(t, answer, trialJob);
    expect((await read(answer.body.trialId)).result.totals.newlyBarred).toBe(1);
  });

  test('tries a published version, and says which', async () => {
    await enter(4.5);
    await draft(FIVE_PADS);
    const done = await tryOut({ version: 1 });
    expect(done.tried.version).toBe(1);
    expect(done.result.totals).toMatchObject({ judged: 1, flipped: 0 });
    expect(done.result.flips).toEqual([]);
  });

  test('judges the newest revision of every entry, whatever has become of it, and events without entries', async () => {
    const entry = await enter(4.5);
    expect((await submit(t, entry, answersWith(7))).status).toBe(201);
    const signedOff = await createTestEntry(t, event);
    await accept(t, event, signedOff);
    const withdrawn = await enter(4.2);
    await t.api('organizer').post(`/v1/entries/${withdrawn.entryId}/withdraw`).send({}).expect(200);
    await createTestEntry(t, event);
    const empty = await createTestEvent(t);
    await draft(FIVE_PADS);
    const { result } = await tryOut({ eventIds: [empty.eventId, event.eventId] });
    expect(result.totals).toMatchObject({ judged: 3, flipped: 1, newlyBarred: 1 });
    expect(result.flips[0]).toMatchObject({ carNumber: withdrawn.carNumber });
    const thick = await tryOut({ version: 1 });
    expect(thick.result.totals.judged).toBe(3);
  });

  test('says of a flip that an inspector accepted the car', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    await draft(
      rulesWith((rules) => {
        Object.assign(rules.rules[0]?.test ?? {}, { atLeast: { value: 9, unit: 'mm' } });
        Object.assign(rules.parameters, { padMinimum: undefined });
      }),
    );
    const { result } = await tryOut();
    expect(result.flips).toMatchObject([{ carNumber: entry.carNumber, accepted: true }]);
    expect(result.flips[0].because).toHaveLength(8);
  });

  test('keeps what a run group changes, and reports what the rules tried cannot take', async () => {
    const novice = await enter(5);
    const advanced = await enter(5, { runGroupId: event.advanced });
    // by version 1 the novice (4 mm) is clean and the advanced (6 mm) is barred, and so they are under the same rules
    const same = await tryOut();
    expect(same.result.totals).toMatchObject({ judged: 2, flipped: 0, before: { barred: 1, clean: 1 } });
    expect(same.result.notApplied).toEqual([]);
    await draft(FIVE_PADS);
    const { result } = await tryOut();
    expect(result.flips).toMatchObject([{ carNumber: advanced.carNumber, before: 'barred', after: 'clean' }]);
    expect(result.notApplied.map((one: { runGroup: string; code: string; pointer: string }) => ({ ...one }))).toEqual([
      expect.objectContaining({ runGroup: 'Novice', from: 'run-group', pointer: '/parameters/padMinimum' }),
      expect.objectContaining({ runGroup: 'Advanced', code: 'unknown-parameter', runGroupId: event.advanced }),
    ]);
    expect(novice.carNumber).not.toBe(advanced.carNumber);
  });

  test('compares without concessions on both sides, and counts the cars that had one', async () => {
    const entry = await createTestEntry(t, event);
    const expiresAt = '2026-06-12T10:00:00Z';
    await t
      .api('chief')
      .post(`/v1/entries/${entry.entryId}/concessions`)
      .send({ ruleId: 'pad-thickness', reason: 'Pads on order', expiresAt })
      .expect(201);
    const submitted = await submit(t, entry, answersWith(3));
    expect(submitted.body.verdict).toBe('to-inspect');
    const { result } = await tryOut({ version: 1 });
    expect(result.totals).toMatchObject({ hadConcession: 1, flipped: 0, before: { barred: 1, clean: 0 } });
  });

  test('names rules that are gone, and reads stored findings whatever their headings hold', async () => {
    const odd = 'Pads\u001e|\u001f"worn"';
    await draft(rulesWith((rules) => Object.assign(rules.rules[0] ?? {}, { title: odd })));
    await t
      .api('organizer')
      .post(`/v1/rule-sets/${event.ruleSetId}/publish`)
      .set('if-match', '*')
      .send({ changelog: 'Odd' })
      .expect(201);
    const change = { ruleSetVersion: 2 };
    const group = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
    await t.api('organizer').patch(group).set('if-match', '*').send(change).expect(200);
    await enter(3);
    await draft(
      rulesWith((rules) => {
        rules.rules.shift();
        Object.assign(rules.parameters, { padMinimum: undefined });
      }),
    );
    const { result } = await tryOut();
    expect(result.totals).toMatchObject({ judged: 1, newlyClean: 1 });
    expect(result.rules.at(-1)).toMatchObject({
      ruleId: 'pad-thickness',
      title: 'Pads|"worn"',
      gone: true,
      noLongerJudged: 1,
    });
    expect(result.flips[0].because).toEqual([
      {
        ruleId: 'pad-thickness',
        title: 'Pads|"worn"',
        position: 'FL.in',
        before: expect.objectContaining({ result: 'not-met', counts: 'bar', limit: '≥ 4 mm' }),
      },
    ]);
  });

  test('counts answers that the catalogue of today cannot read as not given', async () => {
    const entry = await enter(5);
    await sql(t, 'ALTER TABLE inspections DISABLE TRIGGER ALL');
    await sql(t, `UPDATE inspections SET answers = answers || '{"gone.item": 1}' WHERE entry_id = $1`, [entry.entryId]);
    await sql(t, 'ALTER TABLE inspections ENABLE TRIGGER ALL');
    const { result } = await tryOut({ version: 1 });
    expect(result.totals).toMatchObject({ unreadable: 1, newlyBarred: 1 });
  });
});

test('its numbers are those of judging every declaration again, one by one', async () => {
  // Twelve cars in two groups (4 and 6 mm of their own) with pads from 3.5 to 9 mm and other answers that vary.
  for (let at = 0; at < 12; at += 1) {
    const more = {
      'brake.pedal': at % 5 === 0 ? 'spongy' : 'firm',
      'radiator.debris': at % 3 === 0 ? 'some' : 'clear',
      'brake-fluid.flushed-on': at % 4 === 0 ? '2025-07-01' : '2026-04-01',
      'body.floor-mats-out': at % 2 === 0,
    };
    await enter(3.5 + at / 2, { runGroupId: at % 2 === 0 ? event.novice : event.advanced, more });
  }
  const tried = rulesWith((rules) => {
    rules.parameters.fluidMaxAge.value = 6;
    const [, pedal, , radiator] = rules.rules;
    Object.assign(pedal ?? {}, { effect: 'inspect' });
    Object.assign(radiator ?? {}, { effect: 'bar' });
  });
  await draft(tried);
  const { result } = await tryOut();

  const compiled = compileRuleSet(RuleSet.parse(tried));
  const entries = await t.deps.db.prisma.entry.findMany({
    where: { eventId: event.eventId },
    include: { runGroup: true },
  });
  const cases: { carNumber: string; before: StoredInspection; after: Judgement }[] = [];
  for (const entry of entries) {
    const [newest] = await listInspections(t.deps.db.prisma, entry.id);
    const parsed = parseAnswers(newest?.answers);
    if (newest === undefined || !parsed.ok) throw new Error('no declaration');
    const { timeZone: _, ...venue } = newest.context.venue;
    const after = evaluate(compiled, {
      answers: parsed.answers,
      vehicle: newest.vehicle,
      event: newest.context.event,
      venue,
      parameters: entry.runGroup.parameters as Record<string, { value: number; unit: string }>,
      concessions: [],
      stage: 'declaration',
    });
    cases.push({ carNumber: entry.carNumber, before: newest, after });
  }
  const flipped = cases.filter((one) => one.before.verdict !== one.after.verdict);
  const verdicts = (side: 'before' | 'after') =>
    ['barred', 'to-inspect', 'clean'].map((verdict) => cases.filter((one) => one[side].verdict === verdict).length);
  expect(flipped.length).toBeGreaterThan(3);
  expect(result.totals).toMatchObject({ judged: 12, flipped: flipped.length });
  for (const side of ['before', 'after'] as const) {
    const counted = result.totals[side];
    expect([counted.barred, counted['to-inspect'], counted.clean]).toEqual(verdicts(side));
  }
  const pairs = (list: { carNumber: string; before: unknown; after: unknown }[]) =>
    list.map(({ carNumber, before, after }) => `${carNumber} ${String(before)} ${String(after)}`).toSorted();
  expect(pairs(result.flips)).toEqual(
    pairs(flipped.map((one) => ({ ...one, before: one.before.verdict, after: one.after.verdict }))),
  );
  const failing = (findings: readonly Finding[], ruleId: string) =>
    findings.some((finding) => finding.ruleId === ruleId && finding.result === 'not-met');
  for (const rule of result.rules) {
    const notMet = cases.filter((one) => failing(one.after.findings, rule.ruleId));
    const newly = notMet.filter((one) => !failing(one.before.findings, rule.ruleId));
    expect([rule.ruleId, rule.notMet, rule.newlyNotMet]).toEqual([rule.ruleId, notMet.length, newly.length]);
  }
});

describe('refuses', () => {
  test('a draft with faults, naming each', async () => {
    await draft({ ...SMALL_RULE_SET, parameters: {} });
    const { status, body } = await start();
    expect([status, body.code]).toEqual([422, 'rule-set-not-acceptable']);
    expect(body.errors.map((fault: { pointer: string }) => fault.pointer)).toEqual([
      '/rules/0/test/atLeast/parameter',
      '/rules/2/test/atMost/parameter',
    ]);
  });

  test.each([
    ['an event that does not exist', { eventIds: [UNKNOWN] }, 422, '/eventIds/0'],
    ['a version that is not published', { version: 7 }, 422, '/version'],
    ['no event', { eventIds: [] }, 400, '/eventIds'],
    ['an event twice', { eventIds: [UNKNOWN, UNKNOWN] }, 400, '/eventIds'],
    [
      '51 events',
      { eventIds: Array.from({ length: 51 }, (_, n) => UNKNOWN.slice(0, -2) + (10 + n)) },
      400,
      '/eventIds',
    ],
    ['an unknown key', { dryRun: true }, 400, '/dryRun'],
  ])('%s', async (_what, body, status, pointer) => {
    const answer = await start(body);
    expect(answer.status).toBe(status);
    expect(answer.body.errors[0].pointer).toBe(pointer);
    expect((await t.api('organizer').get(`/v1/rule-sets/${event.ruleSetId}/trials`)).body.trials).toEqual([]);
  });

  test('a rule set and a trial that do not exist', async () => {
    expect((await start({}, UNKNOWN)).status).toBe(404);
    expect((await t.api('organizer').get(`/v1/rule-sets/${UNKNOWN}/trials`)).status).toBe(404);
    expect((await t.api('organizer').get(`/v1/trials/${UNKNOWN}`)).status).toBe(404);
  });
});

test('lists the trials of a rule set newest first, page by page, without results', async () => {
  const ids: string[] = [];
  for (let at = 0; at < 3; at += 1) ids.unshift((await start()).body.trialId);
  const other = await createTestEvent(t);
  await start({}, other.ruleSetId);
  const first = await t.api('organizer').get(`/v1/rule-sets/${event.ruleSetId}/trials?limit=2`);
  expect(first.body.trials.map((trial: { trialId: string }) => trial.trialId)).toEqual(ids.slice(0, 2));
  expect(first.body.trials[0]).not.toHaveProperty('result');
  const second = await t
    .api('organizer')
    .get(`/v1/rule-sets/${event.ruleSetId}/trials?limit=2&cursor=${first.body.next}`);
  expect(second.body.trials.map((trial: { trialId: string }) => trial.trialId)).toEqual(ids.slice(2));
  expect(second.body.next).toBeUndefined();
});

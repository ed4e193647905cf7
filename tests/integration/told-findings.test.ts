import { createHash } from 'node:crypto';
import canonicalizeModule from 'canonicalize';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { EVALUATOR } from '../../src/records/judging/inspections.ts';
import { unpackLists } from '../../src/records/judging/signed-lists.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { wholeRevision } from '../support/form.ts';
import { historyOf, sql, tamper } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

/** One thin pad, and a floor mat that is only advice. */
const POOR = {
  ...GOOD_ANSWERS,
  'pad.thickness': { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': 3.5 },
  'body.floor-mats-out': false,
};

interface Row {
  codes: string | null;
  evaluator: string | null;
  findings_sha256: string | null;
  findings: Record<string, unknown>[];
}

async function rowOf(inspectionId: string): Promise<Row> {
  const text = 'SELECT codes, evaluator, findings_sha256, findings FROM inspections WHERE id = $1';
  const [row] = await sql<Row>(t, text, [inspectionId]);
  if (row === undefined) throw new Error('no such inspection');
  return row;
}

async function declared(answers: unknown = POOR): Promise<{ entry: TestEntry; inspectionId: string }> {
  const entry = await createTestEntry(t, event);
  const answer = await submit(t, entry, answers);
  expect(answer.status).toBe(201);
  return { entry, inspectionId: answer.body.inspectionId };
}

/** Stored findings have no bounds, which answers add for pages. */
const asStored = (findings: Record<string, unknown>[]) =>
  findings.map((finding) => Object.fromEntries(Object.entries(finding).filter(([name]) => name !== 'bounds')));

/** Gives a row the form that it would have from before only what counts was kept. */
async function toOldForm(inspectionId: string): Promise<void> {
  const { findings } = await wholeRevision(t, { inspectionId });
  const text = `UPDATE inspections SET codes = NULL, evaluator = NULL, findings_sha256 = NULL, findings = $2 WHERE id = $1`;
  await tamper(t, text, [inspectionId, JSON.stringify(asStored(findings))]);
}

/** Makes a row say that another version judged it, which found one met rule not met and no fault with a pad. */
async function judgedOtherwise(inspectionId: string): Promise<void> {
  const row = await rowOf(inspectionId);
  const [pad, ...others] = row.findings;
  expect(pad?.['ruleId']).toBe('pad-thickness');
  const findings = asStored((await wholeRevision(t, { inspectionId })).findings);
  const nth = findings.findIndex((one) => one['ruleId'] === 'pedal-firm');
  const told = {
    ...findings[nth],
    result: 'not-met',
    counts: 'bar',
    message: 'As an older version said it.',
    fix: 'Bleed.',
  };
  const [name, letters = ''] = row.codes?.split(':') ?? [];
  const given = [...letters].flatMap((letter, place) => (letter === '-' ? [] : [place]));
  const swapped = [...letters.replace('B', 'm')];
  swapped[given[nth] ?? -1] = 'B';
  const codes = `${name}:${swapped.join('')}`;
  await tamper(
    t,
    `UPDATE inspections SET codes = $2, evaluator = '0.1', findings_sha256 = $3, findings = $4 WHERE id = $1`,
    [inspectionId, codes, 'a'.repeat(64), JSON.stringify([told, ...others])],
  );
}

describe('a declaration keeps', () => {
  test('of its findings those that count, a letter for each, what judged it, and the digest of all', async () => {
    const { inspectionId } = await declared();
    const whole = await wholeRevision(t, { inspectionId });
    const row = await rowOf(inspectionId);
    expect(row.evaluator).toBe(EVALUATOR);
    const counting = asStored(whole.findings).filter((one) => one['result'] !== 'met');
    expect(counting.length).toBeGreaterThan(1);
    expect(row.findings).toEqual(counting);
    expect(row.codes?.replaceAll('-', '').split(':')[1]).toHaveLength(whole.tally.all);
    // RFC 8785 by the reference library, SHA-256 by OpenSSL
    const canonicalize = canonicalizeModule as unknown as (value: unknown) => string;
    const digest = createHash('sha256')
      .update(canonicalize(asStored(whole.findings)))
      .digest('hex');
    expect(row.findings_sha256).toBe(digest);
    expect(whole).toMatchObject({ judgedAgain: 'same', evaluator: EVALUATOR });
    expect(whole.tally.all).toBe(whole.findings.length);
  });

  test('all three or none, which the database holds', async () => {
    const { inspectionId } = await declared();
    const half = 'UPDATE inspections SET evaluator = NULL WHERE id = $1';
    await expect(tamper(t, half, [inspectionId])).rejects.toThrow(/inspections_told_check/u);
    await expect(sql(t, half, [inspectionId])).rejects.toThrow(/append-only/u);
  });
});

describe('a row from before', () => {
  test('reads the same everywhere', async () => {
    const { entry, inspectionId } = await declared();
    const api = t.api('organizer');
    const read = async () => {
      const paths = [
        `/v1/inspections/${inspectionId}`,
        `/v1/inspections/${inspectionId}?findings=all`,
        `/v1/entries/${entry.entryId}/inspections?findings=all`,
        `/v1/inspections/${inspectionId}/findings/pad-thickness`,
        `/v1/events/${event.eventId}/readiness`,
        `/v1/entries/${entry.entryId}/form`,
        `/v1/entries/${entry.entryId}/record`,
      ];
      const bodies = [];
      for (const path of paths) bodies.push((await api.get(path).expect(200)).body);
      return JSON.parse(JSON.stringify(bodies).replaceAll(`"evaluator":"${EVALUATOR}"`, '"evaluator":null'));
    };
    const now = await read();
    await toOldForm(inspectionId);
    expect((await rowOf(inspectionId)).codes).toBeNull();
    const before = await read();
    // the readiness says when it was asked
    const { at: _, ...readiness } = before[4];
    expect([before.slice(0, 4), readiness, before.slice(5)]).toEqual([
      now.slice(0, 4),
      now[4] && readiness,
      now.slice(5),
    ]);
    expect(readiness.findings).toEqual(now[4].findings);
    const data = (await api.get(`/v1/entries/${entry.entryId}/personal-data`).expect(200)).body;
    expect(data.declarations[0].tally).toEqual(before[0].tally);
  });

  test('is tried under other rules to the same result', async () => {
    const other = await createTestEvent(t);
    const entries = [];
    for (const answers of [POOR, GOOD_ANSWERS, { ...GOOD_ANSWERS, 'pad.thickness': POOR['pad.thickness'] }]) {
      const entry = await createTestEntry(t, other);
      entries.push({ entry, inspectionId: (await submit(t, entry, answers)).body.inspectionId as string });
    }
    const group = `/v1/events/${other.eventId}/run-groups/${other.novice}/preview`;
    const preview = async () =>
      (
        await t
          .api('organizer')
          .post(group)
          .send({ parameters: { padMinimum: { value: 9, unit: 'mm' } } })
          .expect(200)
      ).body;
    const now = await preview();
    expect(JSON.stringify(now)).toContain('pad-thickness');
    for (const { inspectionId } of entries) await toOldForm(inspectionId);
    expect(await preview()).toEqual(now);
  });

  test('that the line accepts keeps its list where it is', async () => {
    const { entry, inspectionId } = await declared({ ...GOOD_ANSWERS });
    await toOldForm(inspectionId);
    const claimed = await claim(t, event, entry.carNumber);
    const signed = await signOff(t, claimed.body.claimId, { decision: 'refuse', note: 'Noise' });
    expect(signed.status).toBe(201);
    const row = await t.deps.db.prisma.signOff.findUniqueOrThrow({ where: { id: signed.body.signOffId } });
    expect(unpackLists(row.lists ?? new Uint8Array()).lists.told).toBeUndefined();
    expect((await wholeRevision(t, { inspectionId })).judgedAgain).toBe('same');
  });
});

describe('what another version judged', () => {
  test('is told as it was told then, says that it differs, and decides as before', async () => {
    const { entry, inspectionId } = await declared();
    const clearance = () => gate(t, event, entry.carNumber);
    const before = await clearance();
    await judgedOtherwise(inspectionId);
    const whole = await wholeRevision(t, { inspectionId });
    expect(whole).toMatchObject({ judgedAgain: 'differs', evaluator: '0.1', verdict: 'barred' });
    const of = (ruleId: string) => whole.findings.filter((one: Record<string, unknown>) => one['ruleId'] === ruleId);
    expect(of('pedal-firm')).toMatchObject([{ result: 'not-met', message: 'As an older version said it.' }]);
    // then all pads were in order: the reading of the one that is not now is not known any more
    expect(of('pad-thickness').map((one: Record<string, unknown>) => one['result'])).toEqual(Array(8).fill('met'));
    expect(whole.tally.all).toBe(whole.findings.length);
    const explained = async (ruleId: string) =>
      (await t.api('marshal').get(`/v1/inspections/${inspectionId}/findings/${ruleId}`).expect(200)).body.judgedAgain;
    expect([await explained('pedal-firm'), await explained('pad-thickness'), await explained('fluid-age')]).toEqual([
      'differs',
      'differs',
      'same',
    ]);
    expect(await clearance()).toEqual(before);
  });
});

describe('a decision of the line', () => {
  async function decided() {
    const { entry, inspectionId } = await declared(GOOD_ANSWERS);
    const claimed = await claim(t, event, entry.carNumber);
    const checks = [{ item: 'pad.thickness', position: 'FL.in', value: 3 }];
    const signed = await signOff(t, claimed.body.claimId, { decision: 'refuse', note: 'Thin pad', checks });
    expect(signed.status, JSON.stringify(signed.body)).toBe(201);
    return { entry, inspectionId, claimed: claimed.body, signOffId: signed.body.signOffId as string };
  }
  const audit = async () => (await t.api('organizer').get(`/v1/events/${event.eventId}/audit`).expect(200)).body;

  test('keeps whole what was told, shown and found, with the digest and the points in its history', async () => {
    const { entry, inspectionId, claimed, signOffId } = await decided();
    const row = await t.deps.db.prisma.signOff.findUniqueOrThrow({ where: { id: signOffId } });
    const { lists, listsSha256 } = unpackLists(row.lists ?? new Uint8Array());
    const whole = await wholeRevision(t, { inspectionId });
    expect(lists.told ?? lists.shown).toEqual(asStored(whole.findings));
    const thin = lists.line.filter(({ result }) => result === 'not-met');
    expect(thin).toMatchObject([{ ruleId: 'pad-thickness', position: 'FL.in', source: 'measured' }]);
    expect(row.findings).toEqual(thin);
    const { data } = (await historyOf(t, entry.entryId)).at(-1) ?? {};
    const shown = claimed.pointsToCheck.map((point: { item: string; position?: string }) =>
      point.position === undefined ? point.item : `${point.item}@${point.position}`,
    );
    expect(data).toMatchObject({ lists: { sha256: listsSha256, evaluator: EVALUATOR }, shown });
    expect(shown.length).toBeGreaterThan(0);
  });

  test('tells a later version of the server what was told, whole', async () => {
    const { inspectionId } = await decided();
    const before = await wholeRevision(t, { inspectionId });
    const text = `UPDATE inspections SET evaluator = '0.1', codes = 'other:m' WHERE id = $1`;
    await tamper(t, text, [inspectionId]);
    // the same comes out again, whatever the version was called
    const { findings, judgedAgain } = await wholeRevision(t, { inspectionId });
    expect({ findings, judgedAgain }).toEqual({ findings: before.findings, judgedAgain: 'same' });
  });

  test('is held against the sealed history: other lists, a digest to go with them, none at all', async () => {
    const { signOffId, entry } = await decided();
    const faultsOf = async () =>
      (await audit()).faults.filter((fault: { entryId?: string }) => fault.entryId === entry.entryId);
    expect(await faultsOf()).toEqual([]);
    const other = await decided();
    const others = 'SELECT lists, lists_sha256 FROM sign_offs WHERE id = $1';
    const [of] = await sql<{ lists: Buffer; lists_sha256: string }>(t, others, [other.signOffId]);
    const [own] = await sql<{ lists: Buffer; lists_sha256: string }>(t, others, [signOffId]);
    const put = 'UPDATE sign_offs SET lists = $2, lists_sha256 = $3 WHERE id = $1';
    for (const [lists, digest] of [
      [Buffer.from('damaged'), own?.lists_sha256],
      [of?.lists, 'b'.repeat(64)],
    ]) {
      await tamper(t, put, [signOffId, lists, digest]);
      expect(await faultsOf()).toMatchObject([{ kind: 'lists-differ', carNumber: entry.carNumber }]);
    }
    const none = 'UPDATE sign_offs SET lists = NULL, lists_sha256 = NULL, evaluator = NULL WHERE id = $1';
    await tamper(t, none, [signOffId]);
    expect(await faultsOf()).toMatchObject([{ kind: 'lists-differ' }]);
    await tamper(t, `UPDATE sign_offs SET lists = $2, lists_sha256 = $3, evaluator = '1.1' WHERE id = $1`, [
      signOffId,
      own?.lists,
      own?.lists_sha256,
    ]);
    expect(await faultsOf()).toEqual([]);
  });
});

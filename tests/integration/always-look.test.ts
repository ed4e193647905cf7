import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  SMALL_RULE_SET,
  submit,
  type TestEvent,
} from '../support/event.ts';

const LOOKS = [
  { id: 'pedal', title: 'Brake pedal held for 10 seconds', items: ['brake.pedal', 'brake.lights'], seconds: 15 },
  { id: 'tyres', title: 'All four tyres', items: ['tyre.cuts-or-bulges'], seconds: 20 },
];
const RULES = {
  ...SMALL_RULE_SET,
  alwaysLook: LOOKS,
  rules: SMALL_RULE_SET.rules.map((rule) => (rule.id === 'pad-thickness' ? { ...rule, decision: 'shared' } : rule)),
};
const LIMIT = SMALL_RULE_SET.parameters.padMinimum.value;
const TICKS = ['brake.pedal', 'brake.lights', 'tyre.cuts-or-bulges'].map((item) => ({ item, result: 'ok' }));

let t: TestApp;
let event: TestEvent;
let sticker = 2000;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t, RULES);
});
afterAll(() => t.close());

const accept = (checks: unknown) => ({ decision: 'accept', stickerNumber: String(sticker++), checks });
async function atLine(answers: unknown = GOOD_ANSWERS) {
  const entry = await createTestEntry(t, event);
  const submitted = await submit(t, entry, answers);
  expect(submitted.status, JSON.stringify(submitted.body)).toBe(201);
  const claimed = await claim(t, event, entry.carNumber);
  return { entry, verdict: submitted.body.verdict, claimed: claimed.body, claimId: claimed.body.claimId as string };
}

describe('a clean car', () => {
  test('is not accepted before it was looked at, and the refusal says at what', async () => {
    const { entry, claimed, claimId, verdict } = await atLine();
    expect(verdict).toBe('clean');
    expect(claimed.pointsToCheck.slice(0, 3)).toMatchObject([
      { item: 'brake.pedal', asked: 'always', always: { id: 'pedal', seconds: 15 } },
      { item: 'brake.lights', asked: 'always', always: { id: 'pedal' } },
      { item: 'tyre.cuts-or-bulges', asked: 'always', always: { id: 'tyres' } },
    ]);
    const refused = await signOff(t, claimId, accept([]));
    expect(refused.status).toBe(409);
    expect(refused.body).toMatchObject({
      code: 'points-not-checked',
      standing: [
        { alwaysLook: 'pedal', items: ['brake.pedal', 'brake.lights'] },
        { alwaysLook: 'tyres', items: ['tyre.cuts-or-bulges'] },
      ],
    });
    const part = await signOff(t, claimId, accept(TICKS.slice(1)));
    expect(part.body.standing).toEqual([{ alwaysLook: 'pedal', title: LOOKS[0]?.title, items: ['brake.pedal'] }]);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(false);
    expect((await signOff(t, claimId, accept(TICKS))).status).toBe(201);
  });

  test('may be refused without a look', async () => {
    const { claimId } = await atLine();
    const answer = await signOff(t, claimId, { decision: 'refuse', note: 'Smoke.', checks: [] });
    expect(answer.status).toBe(201);
  });
});

describe('a pad that is too close to call', () => {
  const near = { ...GOOD_ANSWERS, 'pad.thickness': { ...GOOD_ANSWERS['pad.thickness'], 'RL.in': LIMIT + 0.3 } };

  test('is cleared by a value, not by a tick', async () => {
    const { claimed, claimId, verdict } = await atLine(near);
    expect(verdict).toBe('to-inspect');
    const asked = claimed.pointsToCheck.find((point: { needsValue?: true }) => point.needsValue);
    expect(asked).toMatchObject({ item: 'pad.thickness', position: 'RL.in', asked: 'rule' });
    const pad = { item: 'pad.thickness', position: 'RL.in' };
    const ticked = await signOff(t, claimId, accept([...TICKS, { ...pad, result: 'ok' }]));
    expect(ticked.body).toMatchObject({
      code: 'points-not-checked',
      standing: [{ ruleId: 'pad-thickness', clearedBy: 'measure' }],
    });
    const thin = await signOff(t, claimId, accept([...TICKS, { ...pad, value: LIMIT - 0.1 }]));
    expect(thin.body).toMatchObject({ code: 'bar-stands' });
    expect((await signOff(t, claimId, accept([...TICKS, { ...pad, value: LIMIT + 0.1 }]))).status).toBe(201);
  });
});

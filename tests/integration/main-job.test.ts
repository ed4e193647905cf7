import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  submit,
  type TestEvent,
} from '../support/event.ts';

let app: TestApp;
let event: TestEvent;

beforeAll(async () => {
  app = await startTestApp();
  event = await createTestEvent(app);
});
afterAll(() => app.close());

describe('from declaration to gate', () => {
  test('a good car ends at admit, on the event days only', async () => {
    const entry = await createTestEntry(app, event);
    expect(await gate(app, event, entry.carNumber)).toMatchObject({ admit: false, status: 'no-declaration' });

    const submitted = await submit(app, entry);
    expect(submitted.status, JSON.stringify(submitted.body)).toBe(201);
    expect(submitted.body).toMatchObject({ verdict: 'clean', revision: 1, ticket: { place: 1 } });
    expect(await gate(app, event, entry.carNumber)).toMatchObject({ admit: false, status: 'in-line' });

    const claimed = await claim(app, event, entry.carNumber);
    expect(claimed.status, JSON.stringify(claimed.body)).toBe(201);
    const signed = await signOff(app, claimed.body.claimId, { decision: 'accept', stickerNumber: '1' });
    expect(signed.status, JSON.stringify(signed.body)).toBe(201);

    expect(await gate(app, event, entry.carNumber)).toMatchObject({ admit: false, status: 'expired' });
    app.clock.set('2026-06-13T08:00:00Z');
    expect(await gate(app, event, entry.carNumber)).toMatchObject({
      admit: true,
      status: 'clear',
      // Midnight after the last event day at the venue, which is two hours ahead of UTC in June.
      validUntil: '2026-06-14T22:00:00.000Z',
    });
    app.clock.set('2026-06-14T22:00:00Z');
    expect(await gate(app, event, entry.carNumber)).toMatchObject({ admit: false, status: 'expired' });
    app.clock.set('2026-06-10T08:00:00Z');
  });

  test('a car that is barred reads what to fix, gets no ticket, and passes after the fix', async () => {
    const entry = await createTestEntry(app, event);
    const thin = {
      ...GOOD_ANSWERS,
      'pad.thickness': { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': { value: 3.5, unit: 'mm' } },
    };
    const barred = await submit(app, entry, thin);
    expect(barred.status).toBe(201);
    expect(barred.body).toMatchObject({ verdict: 'barred', ticket: null });
    const finding = barred.body.findings.find((one: { result: string }) => one.result === 'not-met');
    expect(finding).toMatchObject({
      ruleId: 'pad-thickness',
      position: 'FL.in',
      measured: { value: 3.5, unit: 'mm' },
      limit: '≥ 4 mm',
      margin: { value: -0.5, unit: 'mm' },
      counts: 'bar',
    });
    expect((await claim(app, event, entry.carNumber)).status).toBe(409);
    expect(await gate(app, event, entry.carNumber)).toMatchObject({ admit: false, status: 'barred' });
    const fixed = await submit(app, entry);
    expect(fixed.body).toMatchObject({ verdict: 'clean', revision: 2 });
  });
});

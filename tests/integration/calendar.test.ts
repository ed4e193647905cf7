import ICAL from 'ical.js';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { asText } from '../support/as-text.ts';
import { accept, createTestEntry, createTestEvent, type TestEntry, type TestEvent } from '../support/event.ts';

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event);
});

/** Read by the parser of another project (ical.js, RFC 5545 and RFC 7265). */
async function read(language = 'en') {
  const answer = await t
    .api(entry.entrant)
    .get(`/v1/entries/${entry.entryId}/calendar`)
    .set('accept-language', language)
    .buffer(true)
    .parse(asText)
    .expect(200);
  const text = answer.body as string;
  const root = new ICAL.Component(ICAL.parse(text));
  const dates = root.getAllSubcomponents('vevent').map((one) => {
    const { uid, summary, description, startDate, endDate } = new ICAL.Event(one);
    const alarms = one.getAllSubcomponents('valarm').length;
    return {
      uid,
      summary,
      description,
      at: startDate.toJSDate().toISOString(),
      end: endDate.toJSDate().toISOString(),
      alarms,
    };
  });
  return { text, root, dates, headers: answer.headers };
}

describe('the calendar of an entry', () => {
  test('has the last minute to declare and the first session, in lines that RFC 5545 allows', async () => {
    const { text, root, dates, headers } = await read();
    expect(headers['content-type']).toBe('text/calendar; charset=utf-8');
    expect([root.getFirstPropertyValue('version'), root.getFirstPropertyValue('method')]).toEqual(['2.0', 'PUBLISH']);
    expect(dates.map(({ at, summary }) => [at, summary])).toEqual([
      ['2026-06-12T18:00:00.000Z', `Last minute to declare car ${entry.carNumber}`],
      ['2026-06-13T07:00:00.000Z', `First session, Novice, car ${entry.carNumber}`],
    ]);
    for (const { alarms, description } of dates) {
      expect(alarms).toBeGreaterThan(0);
      expect(description).toContain('Test event');
    }
    // RFC 5545, 3.1: lines end with CR LF and should not be longer than 75 octets.
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
    expect(Math.max(...text.split('\r\n').map((line) => Buffer.byteLength(line)))).toBeLessThanOrEqual(75);
  });

  test('has the sessions and what is due, and keeps the id of what moves', async () => {
    const path = `/v1/events/${event.eventId}/run-groups/${event.novice}/sessions`;
    const put = (hour: string) =>
      t
        .api('chief')
        .put(path)
        .set('if-match', '*')
        .send({
          sessions: [{ name: 'Früh; 1', startsAt: `2026-06-13T${hour}:00:00Z`, endsAt: `2026-06-13T${hour}:20:00Z` }],
        })
        .expect(200);
    await put('07');
    const conditions = [{ text: 'Tape, both lamps', dueAt: '2026-06-13T06:30:00Z' }];
    expect((await accept(t, event, entry, { decision: 'accept-with-conditions', conditions })).status).toBe(201);
    const before = await read('de-AT, de;q=0.9');
    expect(before.headers['content-language']).toBe('de');
    expect(before.dates.map(({ at, end, summary }) => [at, end, summary])).toEqual([
      ['2026-06-13T06:30:00.000Z', '2026-06-13T06:30:00.000Z', `Auto ${entry.carNumber}, spätestens: Tape, both lamps`],
      ['2026-06-13T07:00:00.000Z', '2026-06-13T07:20:00.000Z', `Ausfahrt Früh; 1, Novice, Auto ${entry.carNumber}`],
    ]);
    await put('08');
    const after = await read();
    expect(after.dates.at(-1)?.at).toBe('2026-06-13T08:00:00.000Z');
    expect(after.dates.map(({ uid }) => uid)).toEqual(before.dates.map(({ uid }) => uid));
  });

  test('is nothing for strangers', async () => {
    const other = await createTestEntry(t, event);
    await t.api(other.entrant).get(`/v1/entries/${entry.entryId}/calendar`).expect(404);
  });
});

import { CloudEvent, HTTP } from 'cloudevents';
import { describe, expect, it, test } from 'vitest';
import {
  FORMAT_TYPES,
  inFormat,
  mayPublish,
  messagesOf,
  type PublishedRow,
  type Story,
  WET_SWITCHED,
} from '../../../../src/domain/history/webhook-messages.ts';
import type { EntryHappening } from '../../../../src/domain/clearance/clearance.ts';
import { ALWAYS } from '../../../support/clearance-histories.ts';

const MESSAGE = {
  messageId: 'msg_019ab8f0000070008000000000000123',
  body: JSON.stringify({
    type: 'hold.placed',
    timestamp: '2026-06-13T06:40:00.000Z',
    data: { eventId: 'e-1', entryId: 'n-1', carNumber: '07', status: 'held', admit: false },
  }),
};

/** Read by the reference library of CloudEvents 1.0, which also validates: `cloudevents`. */
const read = (body: string): CloudEvent<unknown> => {
  const event = HTTP.toEvent({ headers: { 'content-type': FORMAT_TYPES.cloudevents }, body });
  if (!(event instanceof CloudEvent)) throw new Error('not one event');
  event.validate();
  return event;
};

describe('inFormat', () => {
  it('leaves a plain message as it is', () => {
    expect(inFormat('plain', MESSAGE, 'https://club.example')).toBe(MESSAGE.body);
  });

  it.each(['https://club.example', ''])('writes what the reference library reads and finds valid, at %j', (base) => {
    const event = read(inFormat('cloudevents', MESSAGE, base));
    expect(event).toMatchObject({
      specversion: '1.0',
      id: MESSAGE.messageId,
      source: `${base}/v1/events/e-1`,
      type: 'hold.placed',
      subject: 'entries/n-1',
      time: '2026-06-13T06:40:00.000Z',
      datacontenttype: 'application/json',
      data: { entryId: 'n-1', carNumber: '07', status: 'held', admit: false },
    });
  });

  it('has no subject where a message is about no entry, and a source all the same', () => {
    const body = JSON.stringify({
      type: 'webhook.test',
      timestamp: '2026-06-13T06:40:00.000Z',
      data: { webhookId: 'w' },
    });
    const event = read(inFormat('cloudevents', { messageId: 'm', body }, ''));
    expect(event.subject).toBeUndefined();
    expect(event.source).toBe('/v1/webhooks/w');
  });
});

const ENTRY = { eventId: 'e', entryId: 'n', carNumber: '07' };
let seq = 0;

function row(action: string, at: string, event?: EntryHappening, data: Record<string, unknown> = {}): PublishedRow {
  seq += 1;
  return {
    historyId: `019ab8f0-0000-7000-8000-${String(seq).padStart(12, '0')}`,
    action,
    at: new Date(at),
    data: event === undefined ? data : { ...data, event },
    eventSeq: seq,
    eventHash: 'h',
  };
}

const CREATED = row('entry.created', '2026-06-01T08:00:00Z');
const BAR = { ruleId: 'pedal-firm', title: 'Pedal' };
const declared = (bars: (typeof BAR)[] = []): EntryHappening => ({
  type: 'declared',
  inspectionId: 'i',
  revision: 1,
  verdict: bars.length > 0 ? 'barred' : 'clean',
  bars,
});
const SIGNED: EntryHappening = {
  type: 'signed-off',
  signOffId: 's',
  decision: 'accept-with-conditions',
  note: 'Zora said so',
  validFrom: '2026-06-12T00:00:00.000Z',
  validUntil: '2026-06-15T00:00:00.000Z',
  bars: [],
  conditions: [{ id: 'c', text: 'Zora torques', dueAt: '2026-06-13T10:00:00.000Z' }],
};

const storyOf = (rows: readonly PublishedRow[]): Story => ({
  of: 'entry',
  rows,
  carRows: [],
  wetRows: [],
  runGroup: 'Novice',
  days: ALWAYS,
});

const told = (rows: PublishedRow[]) =>
  messagesOf(ENTRY, storyOf(rows)).map(
    ({ body }) => JSON.parse(body) as { type: string; data: Record<string, unknown> },
  );
const types = (rows: PublishedRow[]) => told(rows).map(({ type }) => type);

describe('messages', () => {
  test('are none for an empty history, for the first row and for what the line does among itself', () => {
    expect(messagesOf(ENTRY, storyOf([]))).toEqual([]);
    expect(messagesOf(ENTRY, storyOf([CREATED]))).toEqual([]);
    expect(types([CREATED, row('ticket.claimed', '2026-06-02T08:00:00Z', undefined, { claimId: 'x' })])).toEqual([]);
  });

  test('tell the row, and that the clearance changed only when it did', () => {
    const first = row('inspection.submitted', '2026-06-02T08:00:00Z', declared());
    const second = row('inspection.submitted', '2026-06-03T08:00:00Z', {
      ...declared(),
      revision: 2,
    } as EntryHappening);
    expect(types([CREATED, first])).toEqual(['inspection.submitted', 'clearance.changed']);
    expect(types([CREATED, first, second])).toEqual(['inspection.submitted']);
    expect(told([CREATED, first])[1]?.data).toMatchObject({ previousStatus: 'no-declaration', status: 'in-line' });
  });

  test('are the same whenever they are made, with ids of letters, digits and underscores', () => {
    const rows = [CREATED, row('hold.placed', '2026-06-02T08:00:00Z', { type: 'held', holdId: 'h', reason: 'leak' })];
    const [once, again] = [messagesOf(ENTRY, storyOf(rows)), messagesOf(ENTRY, storyOf(structuredClone(rows)))];
    expect(once).toEqual(again);
    expect(once).toHaveLength(2);
    expect(new Set(once.map(({ messageId }) => messageId)).size).toBe(2);
    // No dot, which separates what is signed (Standard Webhooks 1.0).
    for (const { messageId } of once) expect(messageId).toMatch(/^msg_[0-9a-z_]+$/);
  });

  test('tell a concession when it counts: not while it waits for a second person', () => {
    const submitted = row('inspection.submitted', '2026-06-02T08:00:00Z', declared([BAR]));
    const asked = row('concession.granted', '2026-06-02T09:00:00Z', undefined, {
      concessionId: 'k',
      ruleId: 'pedal-firm',
    });
    const until = '2026-06-14T00:00:00.000Z';
    const conceded: EntryHappening = { type: 'conceded', ruleId: 'pedal-firm', until };
    const approved = row('concession.approved', '2026-06-02T10:00:00Z', conceded, { concessionId: 'k' });
    expect(types([CREATED, submitted, asked])).toEqual([]);
    expect(types([CREATED, submitted, asked, approved])).toEqual(['concession.granted', 'clearance.changed']);
    expect(told([CREATED, submitted, asked, approved])[0]?.data).toMatchObject({
      concessionId: 'k',
      ruleId: 'pedal-firm',
    });
  });

  test('tell an end by the clock with the row that notes it, once', () => {
    const rows = [
      CREATED,
      row('inspection.submitted', '2026-06-02T08:00:00Z', declared()),
      row('entry.signed-off', '2026-06-13T08:00:00Z', SIGNED),
      row('condition.fell-due', '2026-06-13T10:00:01Z', undefined, { conditionId: 'c' }),
      row('hold.placed', '2026-06-13T11:00:00Z', { type: 'held', holdId: 'h', reason: 'leak' }),
      row('clearance.expired', '2026-06-15T00:00:01Z', undefined, { signOffId: 's' }),
    ];
    expect(told(rows.slice(0, 3))[1]?.data).toMatchObject({ admit: true, validUntil: '2026-06-13T10:00:00.000Z' });
    expect(types(rows.slice(0, 4))).toEqual(['condition.fell-due', 'clearance.changed']);
    expect(types(rows.slice(0, 5))).toEqual(['hold.placed']);
    expect(types(rows)).toEqual([]);
  });

  test('carry ids and our own words, and nothing that people typed', () => {
    const typed = { reason: 'Zora', note: 'Zora', text: 'Zora', entrant: { name: 'Zora' }, name: 'Zora', holdId: 'h2' };
    const rows = [CREATED, row('hold.lifted', '2026-06-02T08:00:00Z', undefined, typed)];
    expect(told(rows)[0]?.data).toMatchObject({ holdId: 'h2' });
    const signed = row('entry.signed-off', '2026-06-13T08:00:00Z', SIGNED, typed);
    for (const { body } of [...messagesOf(ENTRY, storyOf(rows)), ...messagesOf(ENTRY, storyOf([CREATED, signed]))]) {
      expect(body).not.toContain('Zora');
      expect(Object.keys(JSON.parse(body) as object)).toEqual(['type', 'timestamp', 'data']);
    }
  });
});

describe('a track that becomes wet', () => {
  const until = (wetRows: readonly PublishedRow[], of: Story['of'], rows: readonly PublishedRow[]) =>
    messagesOf(ENTRY, { ...storyOf(rows), of, wetRows }).map(({ body }) => {
      const { type, data } = JSON.parse(body) as { type: string; data: Record<string, unknown> };
      return [type, data['previousStatus'], data['status']];
    });
  const wet = (at: string, is: boolean) => row(WET_SWITCHED, at, undefined, { runGroupId: 'g', wet: is });
  const CLEAR = [
    CREATED,
    row('inspection.submitted', '2026-06-02T08:00:00Z', declared()),
    row('entry.signed-off', '2026-06-12T08:00:00Z', { ...SIGNED, conditions: [] }),
  ];
  const rain = wet('2026-06-13T08:00:00Z', true);
  const sun = wet('2026-06-13T09:00:00Z', false);

  test('is told at each entry that it keeps in, and again when it is dry', () => {
    expect(until([rain], 'group', CLEAR)).toEqual([['clearance.changed', 'clear', 'held']]);
    expect(until([rain, sun], 'group', CLEAR)).toEqual([['clearance.changed', 'held', 'clear']]);
    expect(until([rain], 'group', CLEAR.slice(0, 2))).toEqual([]);
    expect(mayPublish(WET_SWITCHED, false)).toBe(true);
  });

  test('is not told at an entry that came later, nor by what happens meanwhile', () => {
    const later = [row('entry.created', '2026-06-13T08:30:00Z')];
    expect(until([rain], 'group', later)).toEqual([]);
    const note = row('photo.added', '2026-06-13T08:30:00Z');
    expect(until([rain], 'entry', [...CLEAR, note])).toEqual([]);
    const measured = { ...SIGNED, conditions: [], wet: { fit: true } } as EntryHappening;
    expect(until([rain], 'entry', [...CLEAR, row('entry.signed-off', '2026-06-13T08:30:00Z', measured)])).toEqual([
      ['entry.signed-off', undefined, 'clear'],
      ['clearance.changed', 'held', 'clear'],
    ]);
  });

  test('has a message id of its own for each entry', () => {
    const ids = ['n', 'm'].map(
      (entryId) => messagesOf({ ...ENTRY, entryId }, { ...storyOf(CLEAR), of: 'group', wetRows: [rain] })[0]?.messageId,
    );
    expect(new Set(ids).size).toBe(2);
  });
});

test.each(['photo.added', 'ticket.claimed', 'claim.renewed', 'entry.erased', 'constructor', '__proto__'])(
  '%s orders nothing',
  (action) => expect(mayPublish(action, false)).toBe(false),
);

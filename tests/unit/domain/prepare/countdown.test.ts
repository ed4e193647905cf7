import { describe, expect, test } from 'vitest';
import { countdown, type CountdownInput, type Stage, STAGES } from '../../../../src/domain/prepare/countdown.ts';
import { lastSafe, type LastSafeInput, wearOutlooks } from '../../../../src/domain/prepare/wear-outlook.ts';
import type { Finding } from '../../../../src/domain/rules/model/finding.ts';
import { LAST_SAFE_SESSION } from '../../../../src/domain/foresight/last-safe-session.ts';

const finding = (item: string, counts: Finding['counts'], more: Partial<Finding> = {}): Finding => ({
  ruleId: `${item}-rule`,
  title: `Title of ${item}`,
  result: counts === 'no' ? 'met' : 'not-met',
  effect: counts === 'no' ? 'bar' : counts,
  counts,
  items: [item],
  basis: { kind: 'common-practice' },
  message: '',
  fix: '',
  ...more,
});
const pad = (position: string, mm: number, limit = 4): Finding =>
  finding('pad.thickness', mm >= limit ? 'no' : 'bar', {
    position,
    measured: { value: mm, unit: 'mm' },
    limit: `≥ ${limit} mm`,
    margin: { value: mm - limit, unit: 'mm' },
  });

const INPUT: CountdownInput = {
  today: '2026-06-01',
  startsOn: '2026-06-13',
  endsOn: '2026-06-14',
  firstSessionAt: '2026-06-13T07:00:00.000Z',
  closesAt: '2026-06-12T18:00:00.000Z',
  declared: false,
  findings: [],
  endings: [],
  outlooks: [],
  logged: [],
  conditions: [],
  wheelTorqueNm: 110,
};
const tasks = (stage: Stage, more: Partial<CountdownInput> = {}) =>
  countdown({ ...INPUT, ...more }).stages.find((one) => one.stage === stage)?.tasks ?? [];

// when what is done: common practice, no source
describe('the countdown', () => {
  test('a car with nothing to mend has the same few things to do, each stage on its days', () => {
    const { stages, pack } = countdown(INPUT);
    expect(stages.map(({ stage, from, to, when }) => [stage, from, to, when])).toEqual([
      ['two-weeks', '2026-05-30', '2026-06-05', 'now'],
      ['one-week', '2026-06-06', '2026-06-11', 'later'],
      ['night-before', '2026-06-12', '2026-06-12', 'later'],
      ['morning', '2026-06-13', '2026-06-13', 'later'],
      ['between-sessions', '2026-06-13', '2026-06-14', 'later'],
      ['after', '2026-06-15', '2026-10-12', 'later'],
    ]);
    expect(stages.map(({ tasks: of }) => of.map(({ kind }) => kind).join(' '))).toEqual([
      '',
      'declare',
      'pack charge-and-fuel set-wrench',
      'cold-pressures walk-round to-line',
      'write-down',
      'kept',
    ]);
    expect(pack.map(({ what }) => what)).toEqual(['papers', 'gear', 'torque-wrench', 'pressure-gauge', 'pad-gauge']);
  });

  test('every day of the two weeks and of the event lies in a stage', () => {
    for (const today of [
      '2026-05-30',
      '2026-06-05',
      '2026-06-06',
      '2026-06-11',
      '2026-06-12',
      '2026-06-13',
      '2026-06-15',
    ]) {
      expect(
        countdown({ ...INPUT, today }).stages.some(({ when }) => when === 'now'),
        today,
      ).toBe(true);
    }
    expect(STAGES).toHaveLength(countdown(INPUT).stages.length);
  });

  test('a part is ordered so many days before that it can still be fitted; a day that has passed is late', () => {
    const findings = [pad('FL.in', 3)];
    // pads wait 4 days (common practice), and two are left to fit them
    expect(tasks('two-weeks', { findings })).toEqual([
      { kind: 'order', part: 'pads', titles: ['Title of pad.thickness'], by: '2026-06-07' },
    ]);
    expect(tasks('two-weeks', { findings, today: '2026-06-08' })).toMatchObject([{ by: '2026-06-07', isLate: true }]);
    expect(
      tasks('one-week', { findings, declared: true }).map(({ kind, opening, axle }) => [kind, opening, axle]),
    ).toEqual([
      ['fix', 'wheels', 'front'],
      ['fix', 'torque', undefined],
      ['bed-in', undefined, undefined],
    ]);
  });

  test('advice is no work, an answer that is missing is to be given, and a label whose time ends in between is named', () => {
    const missing = finding('brake.pedal', 'bar', { result: 'unanswerable' });
    expect(tasks('one-week', { findings: [finding('wheel.clean', 'advise'), missing], declared: true })).toEqual([
      { kind: 'answer', count: 1 },
    ]);
    const endings = [
      { title: 'Belt', on: '2026-05-31' },
      { title: 'Helmet', on: '2026-08-01' },
      { title: 'Seat', on: '2031-12-31' },
    ];
    expect(tasks('two-weeks', { endings })).toEqual([{ kind: 'ends', titles: ['Belt'], by: '2026-05-31' }]);
    expect(tasks('after', { endings })).toEqual([
      { kind: 'due', titles: ['Helmet'], by: '2026-08-01' },
      { kind: 'kept' },
    ]);
  });

  test('what the line asked for stands between the sessions with its time; what wore stands after them', () => {
    const conditions = [{ id: 'c1', text: 'Re-check wheel torque', dueAt: '2026-06-13T09:00:00.000Z' }];
    expect(tasks('between-sessions', { conditions })[0]).toEqual({
      kind: 'condition',
      titles: ['Re-check wheel torque'],
      at: '2026-06-13T09:00:00.000Z',
    });
    const logged = [
      { sessions: 1, pad: { front: 8.2 } },
      { sessions: 4, pad: { front: 7.1, rear: 6 } },
    ];
    expect(tasks('after', { logged })[0]).toEqual({
      kind: 'wore',
      wear: 'pad',
      axle: 'front',
      before: 8.2,
      value: 7.1,
      count: 3,
    });
  });
});

describe('how the parts of this car last', () => {
  const wear = { startsOn: '2026-06-13', earlier: [], logged: [], sessionsPerDay: 4, sessionsToCome: 8 };

  test('the worst place of an axle counts, and pads that may end before the event are packed', () => {
    const findings = [pad('FL.in', 9), pad('FL.out', 5), pad('RL.in', 14)];
    const outlooks = wearOutlooks({ ...wear, findings });
    expect(outlooks.map(({ kind, axle, nowMm, limitMm, lasts }) => [kind, axle, nowMm, limitMm, lasts])).toEqual([
      ['pad', 'front', 5, 4, false],
      ['pad', 'rear', 14, 4, true],
    ]);
    const { pack, stages } = countdown({ ...INPUT, findings, outlooks });
    expect(pack.at(-1)).toEqual({ what: 'spare-pads', axle: 'front' });
    expect(stages[0]?.tasks).toMatchObject([{ kind: 'order-for-wear', wear: 'pad', axle: 'front' }]);
    expect(stages[4]?.tasks.at(-1)).toMatchObject({ kind: 'watch-wear', axle: 'front', value: 4 });
  });

  // reference: the computation `last-safe-session`, whose published values stand in tests/unit/domain/foresight
  test('it says what the computation says of the same readings', () => {
    const earlier = [
      { startsOn: '2026-05-02', endsOn: '2026-05-02', daysBefore: 0, daysAfter: 1, padThicknessMm: { 'FL.in': 9.8 } },
    ];
    const logged = [{ sessions: 2, pad: { front: 7.1 } }];
    const [front] = wearOutlooks({ ...wear, earlier, logged, findings: [pad('FL.in', 8.4)] });
    const readings = [
      { sessions: 0, thicknessMm: 9.8 },
      { sessions: 4, thicknessMm: 8.4 },
      { sessions: 6, thicknessMm: 7.1 },
    ];
    const parts = [{ name: 'front', kind: 'pad' as const, readings, limitMm: 4 }];
    const { result } = LAST_SAFE_SESSION.compute({ parts, sessionsToCome: 8 });
    expect(front).toMatchObject({ nowMm: 7.1, safeSessions: result.safeSessions, lasts: result.lastsTheEvent });
    expect(front?.atEnd.low).toBeCloseTo(result.parts[0]?.atEnd.low ?? Number.NaN, 1);
  });

  test('pads that are thicker than before are other pads, whose wear begins there', () => {
    const logged = [
      { sessions: 1, pad: { front: 4.5 } },
      { sessions: 2, pad: { front: 12 } },
    ];
    const [front] = wearOutlooks({ ...wear, logged, findings: [pad('FL.in', 5)] });
    expect(front).toMatchObject({ nowMm: 12, lasts: true });
  });

  // reference: the same computation
  test('tyres go by what was written down of them, here and at earlier events', () => {
    const spring = { startsOn: '2026-05-02', endsOn: '2026-05-02', daysBefore: 0, daysAfter: 1, padThicknessMm: {} };
    const earlier = [{ ...spring, treadMm: { FL: 5.2, FR: 5 } }];
    const logged = [{ sessions: 2, pad: { front: 3 }, tread: { front: 3.4 } }];
    const measured = { value: 4.1, unit: 'mm' };
    const tread = finding('tyre.tread-lowest', 'no', { position: 'FL', measured, limit: '≥ 1.6 mm' });
    const readings = [
      { sessions: 0, thicknessMm: 5 },
      { sessions: 4, thicknessMm: 4.1 },
      { sessions: 6, thicknessMm: 3.4 },
    ];
    const parts = [{ name: 'front', kind: 'tread' as const, readings, limitMm: 1.6 }];
    const { result } = LAST_SAFE_SESSION.compute({ parts, sessionsToCome: 8 });
    const [front] = wearOutlooks({ ...wear, earlier, logged, findings: [tread] });
    expect(front).toMatchObject({ kind: 'tread', nowMm: 3.4, readings: 3, safeSessions: result.safeSessions });
    const fitted = [...logged, { sessions: 3, tread: { front: 7.8 } }];
    expect(wearOutlooks({ ...wear, earlier, logged: fitted, findings: [tread] })).toMatchObject([
      { nowMm: 7.8, readings: 1, lasts: true },
    ]);
  });

  test('without a reading or a limit that bars there is nothing to say', () => {
    const advised = { ...pad('FL.in', 5), effect: 'advise' as const };
    expect(
      wearOutlooks({ ...wear, findings: [advised, finding('pad.thickness', 'bar', { position: 'FL.in' })] }),
    ).toEqual([]);
  });
});

describe('the part that ends first', () => {
  const session = (name: string, startsAt: string, endsAt: string) => ({ name, startsAt, endsAt });
  const SESSIONS = ['13', '14'].flatMap((day) =>
    [8, 10, 12, 14].map((hour, at) => {
      const clock = (minute: string) => `2026-06-${day}T${String(hour).padStart(2, '0')}:${minute}:00.000Z`;
      return session(`${day === '13' ? 'Saturday' : 'Sunday'} ${at + 1}`, clock('00'), clock('20'));
    }),
  );
  const known: LastSafeInput = {
    event: { startsOn: '2026-06-13', endsOn: '2026-06-14' },
    findings: [pad('FL.in', 9), pad('RL.in', 9)],
    earlier: [],
    sessions: SESSIONS,
    now: new Date('2026-06-13T06:00:00Z'),
  };

  test('is the one of fewest sessions, with the last session that it lasts; none where all last the event', () => {
    expect(lastSafe(known)).toBeUndefined();
    const worn = { ...known, findings: [pad('FL.in', 6), pad('RL.in', 5.6)] };
    const told = lastSafe(worn);
    // the same as the computation of the API says of that part alone
    const part = { name: 'rear', kind: 'pad' as const, readings: [{ sessions: 0, thicknessMm: 5.6 }], limitMm: 4 };
    const { result } = LAST_SAFE_SESSION.compute({ parts: [part], sessionsToCome: 8 });
    expect(told).toMatchObject({ wear: 'pad', axle: 'rear', sessions: result.safeSessions, nowMm: 5.6, limitMm: 4 });
    expect(result.safeSessions).toBeGreaterThan(0);
    expect(told?.session?.name).toBe(SESSIONS[result.safeSessions - 1]?.name);
    // half of the first day is over: the sessions are counted from now
    const later = lastSafe({ ...worn, now: new Date('2026-06-13T11:00:00Z') });
    expect(later?.session?.name).toBe(SESSIONS[result.safeSessions + 1]?.name);
    expect(lastSafe({ ...worn, now: new Date('2026-06-14T20:00:00Z') })).toBeUndefined();
  });

  test('from one reading only what will likely end is named; from several what is not sure to last', () => {
    const one = { ...known, findings: [pad('FL.in', 8)] };
    expect(
      wearOutlooks({ ...one, startsOn: '2026-06-13', logged: [], sessionsPerDay: 4, sessionsToCome: 8 }),
    ).toMatchObject([{ lasts: false, readings: 1 }]);
    expect(lastSafe(one)).toBeUndefined();
    const spring = { startsOn: '2026-04-18', endsOn: '2026-04-19', daysBefore: 0, daysAfter: 2 };
    const read = { ...one, earlier: [{ ...spring, padThicknessMm: { 'FL.in': 11.6 } }] };
    expect(lastSafe(read)).toMatchObject({ axle: 'front', nowMm: 8 });
  });

  test('without a timetable it is a number of sessions, and 0 has none that is safe', () => {
    const none = lastSafe({ ...known, sessions: [], findings: [pad('FR.out', 4.1)] });
    expect(none).toMatchObject({ axle: 'front', sessions: 0 });
    expect(none).not.toHaveProperty('session');
    expect(lastSafe({ ...known, sessions: [], findings: [pad('FR.out', 5)] })).not.toHaveProperty('session');
  });
});

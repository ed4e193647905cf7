import { describe, expect, it } from 'vitest';
import { dailyRechecks } from '../../../../src/domain/log/daily-recheck.ts';

const event = {
  firstSessionAt: new Date('2026-06-12T07:00:00.000Z'),
  sessions: [],
  timeZone: 'Europe/Berlin',
  startsOn: '2026-06-12',
  endsOn: '2026-06-14',
};
const dues = (...args: Parameters<typeof dailyRechecks>) => dailyRechecks(...args).map(({ dueAt }) => dueAt);
const at = (text: string) => new Date(text);

describe('what is shown again on later days', () => {
  it('is due before the first session of each day after the acceptance', () => {
    expect(dues(['tyres'], event, at('2026-06-10T10:00:00Z'))).toEqual([
      '2026-06-13T07:00:00.000Z',
      '2026-06-14T07:00:00.000Z',
    ]);
    expect(dues(['tyres'], event, at('2026-06-13T05:00:00Z'))).toEqual(['2026-06-14T07:00:00.000Z']);
    expect(dues(['tyres'], event, at('2026-06-14T05:00:00Z'))).toEqual([]);
  });

  it('is nothing where the group names nothing, or does not drive on a day', () => {
    expect(dues([], event, at('2026-06-10T10:00:00Z'))).toEqual([]);
    const sessions = [
      { name: 'Fri 1', startsAt: '2026-06-12T08:00:00.000Z', endsAt: '2026-06-12T08:20:00.000Z' },
      { name: 'Sun 1', startsAt: '2026-06-14T09:30:00.000Z', endsAt: '2026-06-14T09:50:00.000Z' },
      { name: 'Sun 2', startsAt: '2026-06-14T12:30:00.000Z', endsAt: '2026-06-14T12:50:00.000Z' },
    ];
    expect(dues(['tyres'], { ...event, sessions }, at('2026-06-10T10:00:00Z'))).toEqual(['2026-06-14T09:30:00.000Z']);
  });

  it('keeps the time of the venue over a change of the clock', () => {
    // IANA tz database: Europe/Berlin goes back on 25 October 2026
    const autumn = {
      ...event,
      startsOn: '2026-10-24',
      endsOn: '2026-10-25',
      firstSessionAt: at('2026-10-24T07:00:00.000Z'),
    };
    expect(dues(['tyres'], autumn, at('2026-10-24T05:00:00Z'))).toEqual(['2026-10-25T08:00:00.000Z']);
  });
});

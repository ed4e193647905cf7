import { expect, test } from 'vitest';
import { bestOuting, type OutingEntry } from '../../../../src/domain/log/best-outing.ts';

const entry = (session: string | null, hour: number, content: Partial<OutingEntry>): OutingEntry => ({
  entryId: 'a',
  session,
  at: `2026-06-13T${String(hour).padStart(2, '0')}:00:00.000Z`,
  writtenName: 'Ines Haldorsen',
  ...content,
});
const hot = (kPa: number): Partial<OutingEntry> => ({
  cells: { 'tyre.hot-pressure@FL': kPa, 'pad.thickness@FL.in': 8 },
});

test('the quickest session is the one to begin with, by what was written last of it', () => {
  const log = [
    entry('1', 9, { ...hot(200), bestLapSeconds: 100 }),
    entry('2', 11, { bestLapSeconds: 98.5, laps: 7 }),
    entry('2', 10, hot(215)),
    entry('2', 12, hot(212)),
    entry('2', 13, { note: 'softer' }),
    entry('3', 14, hot(220)),
  ];
  expect(bestOuting(log)).toEqual({
    session: '2',
    at: '2026-06-13T13:00:00.000Z',
    laps: 7,
    bestLapSeconds: 98.5,
    cells: { 'tyre.hot-pressure@FL': 212 },
    notes: [{ text: 'softer', by: 'Ines Haldorsen' }],
  });
});

test('without a time it is the last one with pressures; one that stopped the car, or has no number, is none', () => {
  const log = [
    entry('1', 9, hot(200)),
    entry('2', 10, hot(210)),
    entry('3', 11, { ...hot(230), symptoms: ['smell-of-fuel'] }),
    entry(null, 12, hot(240)),
    entry('4', 13, { note: 'rain' }),
  ];
  expect(bestOuting(log)?.session).toBe('2');
  expect(bestOuting([entry('4', 13, { note: 'rain' })])).toBeUndefined();
  expect(bestOuting([entry('3', 11, { bestLapSeconds: 90, symptoms: ['smell-of-fuel'] })])).toBeUndefined();
});

test('two drivers of a shared car count their own sessions', () => {
  const log = [entry('1', 9, { ...hot(200), bestLapSeconds: 100 }), { ...entry('1', 10, hot(220)), entryId: 'b' }];
  expect(bestOuting(log)?.cells).toEqual({ 'tyre.hot-pressure@FL': 200 });
});

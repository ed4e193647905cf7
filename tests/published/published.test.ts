import { readdirSync } from 'node:fs';
import { afterAll, describe, expect, test } from 'vitest';
import { CHECKS as BRAKE_FLUID } from './brake-fluid.ts';
import { CHECKS as BRAKES } from './brakes.ts';
import { CHECKS as CHASSIS } from './chassis.ts';
import { CHECKS as CONFORMITY } from './conformity.ts';
import { CHECKS as ELECTRIC } from './electric.ts';
import { CHECKS as FASTENERS } from './fasteners.ts';
import { CHECKS as FLUIDS } from './fluids.ts';
import type { PublishedCheck } from './published-check.ts';
import { type CheckedRow, formatTable, runCheck } from './published-table.ts';
import { CHECKS as FORESIGHT } from './foresight.ts';
import { CHECKS as QUEUEING } from './queueing.ts';
import { CHECKS as SAFETY_LABELS } from './safety-labels.ts';
import { CHECKS as SCALES } from './scales.ts';
import { CHECKS as SOUND } from './sound.ts';
import { CHECKS as TYRES } from './tyres.ts';
import { CHECKS as UNITS } from './units.ts';

const TOPICS: Readonly<Record<string, readonly PublishedCheck[]>> = {
  brakes: BRAKES,
  'brake-fluid': BRAKE_FLUID,
  tyres: TYRES,
  fluids: FLUIDS,
  'safety-labels': SAFETY_LABELS,
  chassis: CHASSIS,
  sound: SOUND,
  electric: ELECTRIC,
  scales: SCALES,
  fasteners: FASTENERS,
  foresight: FORESIGHT,
  queueing: QUEUEING,
  conformity: CONFORMITY,
  units: UNITS,
};
const ALL = Object.values(TOPICS).flat();

/** Worked examples we promise to reproduce; N: a published value that is wrong and must not come out. */
// biome-ignore format: a list of ids is read by tens
const WORKED_EXAMPLES = [
  'W01', 'W02', 'W03', 'W04', 'W05', 'W06', 'W07', 'W08', 'W09', 'W10',
  'W11', 'W12', 'W13', 'W14', 'W15', 'W16', 'W17', 'W18', 'W19', 'W20',
  'W21', 'W22', 'W23', 'W24', 'W25', 'W26', 'W27', 'W28', 'W29', 'W30',
  'W31', 'W32', 'W33', 'W34', 'W35', 'W36', 'W37', 'W38', 'W39', 'W40',
];
const NEGATIVE_EXAMPLES = ['W04', 'W08', 'W26', 'W27'];

const rows: CheckedRow[] = [];
afterAll(() => {
  if (process.env['PRINT_PUBLISHED'] !== undefined) process.stdout.write(formatTable(rows));
});

describe.each(Object.entries(TOPICS))('published values: %s', (_topic, checks) => {
  test.each(checks.map((check) => [check.name, check] as const))('%s', (_name, check) => {
    const row = runCheck(check);
    rows.push(row);
    expect(row, `${row.name}: published ${row.published}, ours ${row.ours}`).toMatchObject({ holds: true });
  });
});

describe('the collection', () => {
  const names = ALL.map((check) => check.name);

  test('has every topic file of the folder', () => {
    const files = readdirSync(new URL('.', import.meta.url))
      .filter((file) => file.endsWith('.ts') && !file.startsWith('published'))
      .map((file) => file.slice(0, -3));
    expect(files.toSorted()).toEqual(Object.keys(TOPICS).toSorted());
  });

  test('names each check once', () => {
    expect(names.filter((name, index) => names.indexOf(name) !== index)).toEqual([]);
  });

  test('names a source for each', () => {
    expect(ALL.filter((check) => check.source.trim().length < 5).map((check) => check.name)).toEqual([]);
  });

  test.each(WORKED_EXAMPLES)('has the worked example %s', (id) => {
    expect(names.filter((name) => name.startsWith(id)).length).toBeGreaterThan(0);
  });

  test.each(NEGATIVE_EXAMPLES)('has the wrong value of %s', (id) => {
    expect(ALL.filter((check) => check.name.startsWith(id) && check.wrong === true).length).toBeGreaterThan(0);
  });
});

describe('runCheck', () => {
  const check = (overrides: Partial<PublishedCheck>): PublishedCheck => ({
    name: 'example',
    published: 10,
    ours: () => 10,
    source: 'none',
    ...overrides,
  });

  test.each<[string, Partial<PublishedCheck>, boolean]>([
    ['the same number', {}, true],
    ['another number', { ours: () => 10.1 }, false],
    ['a number within the tolerance', { ours: () => 10.1, tolerance: 0.2 }, true],
    ['a wrong number that comes out', { wrong: true, ours: () => 10.1, tolerance: 0.2 }, false],
    ['a wrong number that does not', { wrong: true, ours: () => 11, tolerance: 0.2 }, true],
    ['no number', { ours: () => Number.NaN, tolerance: 1 }, false],
    ['no number where a wrong one must not come out', { wrong: true, ours: () => Number.NaN }, false],
    ['a text for a number', { ours: () => '10' }, false],
    ['a refusal where a wrong number must not come out', { wrong: true, ours: () => 'refused' }, true],
    ['the same text', { published: 'a', ours: () => 'a' }, true],
    ['another text', { published: 'a', ours: () => 'b' }, false],
    ['a wrong text that does not come out', { published: 'a', ours: () => 'b', wrong: true }, true],
  ])('of %s', (_what, overrides, holds) => {
    expect(runCheck(check(overrides)).holds).toBe(holds);
  });
});

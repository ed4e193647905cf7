import { afterAll, describe, expect, it } from 'vitest';
import { loadCases, loadOpen } from './case.ts';
import { judge, RULES } from './judge.ts';
import { faultOf } from './outcome.ts';
import { faultsOf, formatTable, pointsOfHonest } from './table.ts';

const cases = loadCases();
const open = loadOpen();
const rows = cases.map((of) => ({ of, outcome: judge(of) }));
const faults = faultsOf(rows);
const bars = RULES.rules.filter(({ effect }) => effect === 'bar').map(({ id }) => id);

/** Rules whose cars another rule stops as well; they are there to say what is wrong. */
const SAYS_MORE: Readonly<Record<string, string>> = { 'tyre-date-code-four-digits': 'tyre-age' };

afterAll(() => {
  if (process.env['PRINT_CASES'] !== undefined) process.stdout.write(formatTable(rows, open));
});

describe('the cases', () => {
  it('have each its own id', () => {
    const ids = cases.map(({ id }) => id);
    expect(ids.filter((id, index) => ids.indexOf(id) !== index)).toEqual([]);
  });

  it('are enough on both sides', () => {
    const count = (expected: string) => cases.filter((one) => one.expected === expected).length;
    expect(count('stopped')).toBeGreaterThanOrEqual(170);
    expect(count('through')).toBeGreaterThanOrEqual(150);
  });

  it('come out as they say, but for those that are known to be open', () => {
    const unknown = [...faults].filter(([id]) => open[id] === undefined);
    expect(unknown).toEqual([]);
  });

  it('that are listed as open are cases, and still wrong', () => {
    expect(Object.keys(open).filter((id) => !faults.has(id))).toEqual([]);
  });

  // goal of the trade, common practice, no source: nothing is bought by inspecting everything
  it('ask little of the line on honest cars', () => {
    const { median, percentile95 } = pointsOfHonest(rows);
    expect(median).toBeLessThanOrEqual(2);
    expect(percentile95).toBeLessThanOrEqual(5);
  });
});

describe('each rule that bars', () => {
  const right = rows.filter(({ of }) => !faults.has(of.id));
  const results = (id: string, expected: string) =>
    right
      .filter(({ of }) => of.expected === expected)
      .flatMap(({ outcome }) => outcome.findings.filter(({ ruleId }) => ruleId === id));

  it('lets an honest car through', () => {
    const never = bars.filter((id) => !results(id, 'through').some(({ result }) => result === 'met'));
    expect(never).toEqual([]);
  });

  const stopped = right.filter(({ of }) => of.expected === 'stopped');
  const asks = (id: string, { outcome }: (typeof rows)[number]) =>
    outcome.findings.some((one) => one.ruleId === id && one.counts !== 'no');

  it('stops a dangerous car that nothing else stops', () => {
    const turned = (id: string) =>
      stopped.some((row) => asks(id, row) && faultOf(row.of, judge(row.of, id)) !== undefined);
    expect(bars.filter((id) => !turned(id))).toEqual(Object.keys(SAYS_MORE));
  });

  it('that stands beside another for its words stops a car too', () => {
    for (const [id, other] of Object.entries(SAYS_MORE)) {
      expect(stopped.filter((row) => asks(id, row) && asks(other, row)).length, id).toBeGreaterThan(0);
    }
  });
});

import { expect, test } from 'vitest';
import type { Finding } from '../../../src/web/api/operations.ts';
import { countFixes, fixesOf } from '../../../src/web/garage/kept/asked.ts';

const finding = (ruleId: string, counts: Finding['counts'], more: Partial<Finding> = {}): Finding => ({
  ruleId,
  title: ruleId,
  result: 'not-met',
  effect: counts === 'no' ? 'bar' : counts,
  counts,
  items: ['pad.thickness'],
  basis: { kind: 'common-practice' },
  message: `${ruleId} is wrong`,
  fix: '',
  ...more,
});
const short = (limit: number, margin: number): Partial<Finding> => ({
  bounds: { min: { value: limit, unit: 'mm' } },
  margin: { value: margin, unit: 'mm' },
});

test('what bars comes first, then what the line looks at, then advice; in each, what is furthest outside its limit', () => {
  const findings = [
    finding('advice', 'advise'),
    finding('look', 'inspect'),
    finding('missing', 'bar', { result: 'unanswerable' }),
    finding('a little', 'bar', short(10, -1)),
    finding('met', 'no', { result: 'met' }),
    finding('half', 'bar', short(4, -2)),
    finding('no number', 'bar'),
    finding('watched', 'no', { watched: true }),
  ];
  expect(fixesOf(findings).map(({ ruleId }) => ruleId)).toEqual([
    'no number',
    'half',
    'a little',
    'missing',
    'look',
    'advice',
  ]);
  expect(countFixes(findings)).toEqual({ bar: 4, inspect: 1, advise: 1 });
});

test('places of one rule with one message are one thing to fix, worst first', () => {
  const findings = [
    finding('pads', 'bar', { position: 'FL.in', ...short(4, -0.5) }),
    finding('pads', 'bar', { position: 'RR.in', ...short(4, -1.5) }),
    finding('pads', 'bar', { position: 'RL.in', message: 'not answered', result: 'unanswerable' }),
  ];
  expect(fixesOf(findings).map((fix) => fix.findings.map(({ position }) => position))).toEqual([
    ['RR.in', 'FL.in'],
    ['RL.in'],
  ]);
});

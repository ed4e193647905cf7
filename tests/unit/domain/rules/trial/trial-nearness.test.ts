import { describe, expect, it } from 'vitest';
import type { Finding } from '../../../../../src/domain/rules/model/finding.ts';
import { nearnessOf } from '../../../../../src/domain/rules/trial/trial-nearest.ts';
import { judge, judgeOne, makeRule } from '../rules-support.ts';

/** The distances are worked out by hand beside each row: |margin| / |limit|. */
function nearness(test: object, items: string[], raw: unknown): number | undefined {
  return nearnessOf(judgeOne({ items, test }, raw))?.relative;
}

const PRESSURE = 'tyre.hot-pressure';
const fourAt = (value: unknown) => ({ FL: value, FR: value, RL: value, RR: value });

describe('nearnessOf', () => {
  it.each<[string, object, unknown, number]>([
    // 3.5 of at least 4: 0.5 / 4
    ['at least, outside', { kind: 'limit', item: 'x', atLeast: { value: 4 } }, 3.5, 0.125],
    // 4.5 of at least 4
    ['at least, inside', { kind: 'limit', item: 'x', atLeast: { value: 4 } }, 4.5, 0.125],
    // 5 of at most 4: 1 / 4
    ['at most, outside', { kind: 'limit', item: 'x', atMost: { value: 4 } }, 5, 0.25],
    ['on the limit', { kind: 'limit', item: 'x', atMost: { value: 4 } }, 4, 0],
    ['on a strict limit', { kind: 'limit', item: 'x', atMost: { value: 4 }, strict: true }, 4, 0],
    // 7 in 4 to 8: 1 from the upper end, 1 / 8
    ['a range, near its upper end', { kind: 'range', item: 'x', from: { value: 4 }, to: { value: 8 } }, 7, 0.125],
    // 3 in 4 to 8: 1 below the lower end, 1 / 4
    ['a range, below', { kind: 'range', item: 'x', from: { value: 4 }, to: { value: 8 } }, 3, 0.25],
    // 10 in 4 to 8: 2 above the upper end, 2 / 8
    ['a range, above', { kind: 'range', item: 'x', from: { value: 4 }, to: { value: 8 } }, 10, 0.25],
    // a limit of 0 has no size
    ['a limit of zero, off it', { kind: 'limit', item: 'x', atMost: { value: 0 } }, 2, 1],
    ['a limit of zero, on it', { kind: 'limit', item: 'x', atMost: { value: 0 } }, 0, 0],
  ])('of %s', (_what, test, value, expected) => {
    const asked = { ...test, item: 'pad.thickness' };
    const finding = judgeOneAt(asked, { 'pad.thickness': { 'FL.in': value } });
    expect(nearnessOf(finding)?.relative).toBeCloseTo(expected, 12);
  });

  it('of a spread: 30 kPa apart where 20 are allowed is half of the limit outside', () => {
    const test = { kind: 'spread', item: PRESSURE, atMost: { value: 20, unit: 'kPa' } };
    const raw = { [PRESSURE]: { ...fourAt({ value: 200, unit: 'kPa' }), RR: { value: 230, unit: 'kPa' } } };
    expect(nearness(test, [PRESSURE], raw)).toBeCloseTo(0.5, 12);
  });

  it('of a date: days against a year', () => {
    // The event of the tests ends on 29 November 2026; a year before is the earliest day. 36.5 days are a tenth.
    const test = { kind: 'age', item: 'brake-fluid.flushed-on', atMost: { value: 12, unit: 'month' } };
    const near = nearness(test, ['brake-fluid.flushed-on'], { 'brake-fluid.flushed-on': '2025-11-29' });
    const far = nearness(test, ['brake-fluid.flushed-on'], { 'brake-fluid.flushed-on': '2026-02-10' });
    expect(near).toBe(0);
    // 29 November 2025 to 10 February 2026: 1 + 31 + 31 + 10 = 73 days, a fifth of 365
    expect(far).toBeCloseTo(73 / 365, 12);
  });

  it('is nothing without a number to set against a limit', () => {
    const test = { kind: 'one-of', item: 'brake.pedal', values: ['firm'] };
    expect(nearness(test, ['brake.pedal'], { 'brake.pedal': 'firm' })).toBeUndefined();
    expect(nearness({ kind: 'confirm', item: 'body.floor-mats-out' }, ['body.floor-mats-out'], {})).toBeUndefined();
  });
});

function judgeOneAt(test: object, raw: unknown): Finding {
  const { findings } = judge([makeRule({ items: ['pad.thickness'], test })], raw);
  const first = findings.find((finding) => finding.position === 'FL.in');
  if (first === undefined) throw new Error('no finding at FL.in');
  return first;
}

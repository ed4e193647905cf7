import { describe, expect, it } from 'vitest';
import { findUntakeable } from '../../../../src/http/body/json-body.ts';

const members = (count: number) => Object.fromEntries(Array.from({ length: count }, (_, at) => [`k${at}`, 1]));
const elements = (count: number) => Array.from({ length: count }, () => 0);

describe('a JSON body', () => {
  it('may have so many parts', () => {
    expect(findUntakeable({ a: members(2000), b: [elements(5000)] })).toBeUndefined();
    expect(findUntakeable(Array.from({ length: 19 }, () => elements(5000)))).toBeUndefined();
  });

  it('and not one more, and the place is named', () => {
    expect(findUntakeable({ a: [1, members(2001)] })).toEqual({
      path: ['a', 1],
      message: 'has more than 2000 members',
    });
    expect(findUntakeable({ a: elements(5001) })).toEqual({ path: ['a'], message: 'has more than 5000 elements' });
    expect(findUntakeable(Array.from({ length: 21 }, () => elements(5000)))).toEqual({
      path: [],
      message: 'holds more than 100000 values',
    });
  });

  it('is looked at for what could not be stored, too', () => {
    expect(findUntakeable({ a: ['\u0000'] })).toMatchObject({ path: ['a', 0] });
  });
});

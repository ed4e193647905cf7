import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { sseParser } from '../../../src/web/shared/live.ts';

const read = (text: string) => sseParser()(text);

// The examples of the HTML standard, section 9.2.6 "Interpreting an event stream", from memory.
describe('the examples of the standard', () => {
  test('lines of data are joined', () => {
    expect(read('data: YHOO\ndata: +2\ndata: 10\n\n')).toEqual([
      { event: 'message', data: 'YHOO\n+2\n10', lastId: '' },
    ]);
  });

  test('comments, ids, one leading space, and a last block without an end', () => {
    const text = ': test stream\n\ndata: first event\nid: 1\n\ndata:second event\nid\n\ndata:  third event\n';
    expect(read(text)).toEqual([
      { event: 'message', data: 'first event', lastId: '1' },
      { event: 'message', data: 'second event', lastId: '' },
    ]);
  });

  test('empty data is a message, no data is none', () => {
    expect(read('data\n\ndata\ndata\n\ndata:').map(({ data }) => data)).toEqual(['', '\n']);
  });

  test('a space after the colon is left out, one only', () => {
    expect(read('data:test\n\ndata: test\n\n').map(({ data }) => data)).toEqual(['test', 'test']);
  });
});

test('cut anywhere, it reads the same', () => {
  const text = 'retry: 3000\r\nid: 7\r\nevent: entry-changed\r\ndata: {"a":"ü:1"}\r\n\r\n:\r\rid: 8\rdata: x\r\r:\n\n';
  const whole = read(text);
  expect(whole).toEqual([
    { event: 'entry-changed', data: '{"a":"ü:1"}', lastId: '7' },
    { event: 'message', data: 'x', lastId: '8' },
  ]);
  fc.assert(
    fc.property(fc.array(fc.nat(text.length)), (cuts) => {
      const places = [0, ...cuts.toSorted((a, b) => a - b), text.length];
      const parse = sseParser();
      const pieces = places.slice(1).map((end, index) => text.slice(places[index], end));
      expect(pieces.flatMap(parse)).toEqual(whole);
    }),
  );
});

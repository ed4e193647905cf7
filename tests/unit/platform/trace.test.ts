import { expect, test } from 'vitest';
import { asSpan, currentTrace, inTrace, parseTraceparent } from '../../../src/platform/telemetry/trace.ts';

const TRACE = '4bf92f3577b34da6a3ce929d0e0e4736';
const PARENT = '00f067aa0ba902b7';
const GOOD = `00-${TRACE}-${PARENT}-01`;

// Source: W3C Trace Context, Recommendation of 23 November 2021, sections 3.2.2.1 to 3.2.2.5 and 4.3.
test.each([
  ['the example of the standard', GOOD, GOOD],
  ['not sampled', `00-${TRACE}-${PARENT}-00`, `00-${TRACE}-${PARENT}-00`],
  ['a flag that version 00 does not know', `00-${TRACE}-${PARENT}-09`, GOOD],
  ['a later version with more behind it', `01-${TRACE}-${PARENT}-01-more`, GOOD],
  ['more behind it in version 00', `${GOOD}-more`, undefined],
  ['the forbidden version', `ff-${TRACE}-${PARENT}-01`, undefined],
  ['a trace of zeros', `00-${'0'.repeat(32)}-${PARENT}-01`, undefined],
  ['a parent of zeros', `00-${TRACE}-${'0'.repeat(16)}-01`, undefined],
  ['capitals', GOOD.toUpperCase(), undefined],
  ['too short', `00-${TRACE.slice(1)}-${PARENT}-01`, undefined],
  ['nothing', '', undefined],
  ['two of them', [GOOD, GOOD], undefined],
  ['a line break behind it', `${GOOD}\n`, undefined],
])('%s', (_, header, expected) => expect(parseTraceparent(header)).toBe(expected));

test('what runs beside a trace is not in it, and what belongs to none leaves the one around it', async () => {
  const seen = await inTrace(GOOD, async () => {
    await Promise.resolve();
    const outer = currentTrace();
    const none = await asSpan(undefined, { name: 'x', kind: 'client', parent: undefined }, async () => currentTrace());
    return [outer, none, currentTrace()];
  });
  expect(seen).toEqual([GOOD, undefined, GOOD]);
  expect(currentTrace()).toBeUndefined();
});

test('a span that fails says the kind of error and not its words', async () => {
  const ended: unknown[] = [];
  const tracer = { start: () => ({ traceparent: GOOD, end: (how: unknown) => void ended.push(how) }) };
  const failing = asSpan(tracer, { name: 'x', kind: 'consumer', parent: undefined }, async () => {
    throw new TypeError('Greta Nameless');
  });
  await expect(failing).rejects.toThrow('Greta');
  expect(ended).toEqual([{ failed: true, attributes: { 'error.type': 'TypeError' } }]);
});

import Fastify from 'fastify';
import { Readable } from 'node:stream';
import { expect, it } from 'vitest';
import { installErrorHandler, MAX_PROBLEM_BYTES, problemText } from '../../../../src/http/frame/error-handler.ts';
import { nameFaults } from '../../../../src/http/frame/problem.ts';

const read = (body: Record<string, unknown>) => JSON.parse(problemText(body));
const faults = (count: number, text = 'x') =>
  Array.from({ length: count }, (_, at) => ({ pointer: `/${text}${at}`, code: 'bad', detail: text }));

it('leaves a problem as it is that is not too large', () => {
  const body = { type: '/problems/x', detail: 'd', errors: faults(100), standing: ['a'], admit: false };
  expect(read(body)).toEqual(body);
});

it('lists a hundred faults and counts the others, those that were counted before too', () => {
  expect(read({ errors: faults(250) })).toMatchObject({ errors: faults(250).slice(0, 100), moreErrors: 150 });
  expect(read({ errors: faults(250), moreErrors: 7 }).moreErrors).toBe(157);
});

it('cuts long texts of the caller, and no character in two', () => {
  const { errors, detail } = read({ detail: 'd'.repeat(5000), errors: faults(1, '😀'.repeat(5000)) });
  expect(detail.length).toBeLessThan(1010);
  expect(errors[0].pointer).toMatch(/^\/(?:😀)+…$/u);
  expect(errors[0].pointer.length + errors[0].detail.length).toBeLessThan(620);
});

it('is never larger than it may be, and counts what was left out of each list', () => {
  const rows = Array.from({ length: 2000 }, (_, row) => ({ row, errors: faults(5, 'y'.repeat(300)) }));
  const text = problemText({ detail: 'd', rows, errors: faults(300, '\u0001'.repeat(400)) });
  expect(Buffer.byteLength(text)).toBeLessThanOrEqual(MAX_PROBLEM_BYTES);
  const body = JSON.parse(text);
  expect(body.rows.length).toBeGreaterThan(0);
  expect(body.more.rows).toBe(2000 - body.rows.length);
  expect(body.errors.length + body.moreErrors).toBe(300);
});

it('names three faults in a sentence, shortly, and counts the others', () => {
  expect(nameFaults(faults(5, 'a'), 10)).toBe('/a0: a; /a1: a; /a2: a; and 12 more.');
  expect(nameFaults(faults(3, 'z'.repeat(100_000))).length).toBeLessThan(1300);
});

it('says that it stops, not that it failed, where a stream is ended before its first word', async () => {
  const app = Fastify();
  app.decorate('publicUrl', undefined);
  app.setGenReqId(() => 'a');
  installErrorHandler(app);
  app.get('/', (_request, reply) => {
    const stream = new Readable({ read: () => undefined });
    setTimeout(() => stream.destroy(), 20);
    return reply.send(stream);
  });
  const answer = await app.inject('/');
  expect(answer.statusCode).toBe(503);
  expect(answer.headers['retry-after']).toBe('5');
  expect(answer.json()).toMatchObject({ code: 'stopping' });
  await app.close();
});

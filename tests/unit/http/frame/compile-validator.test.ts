import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { compileValidator } from '../../../../src/http/frame/compile-validator.ts';

const person = z.strictObject({ name: z.string().min(1) });

/** Counts how many elements were looked at. */
function counted() {
  let looked = 0;
  const element = person.superRefine(() => void (looked += 1));
  return { element, looked: () => looked };
}

const validate = (schema: z.ZodType, value: unknown) =>
  compileValidator({ schema, method: 'POST', url: '/', httpPart: 'body' })(value) as { error?: Error; value?: unknown };

describe('compileValidator', () => {
  it('takes what the schema takes, with its defaults', () => {
    const schema = z.strictObject({ people: z.array(person).max(2).default([]), note: z.string().optional() });
    expect(validate(schema, {})).toEqual({ value: { people: [] } });
    const two = { people: [{ name: 'A' }, { name: 'B' }], note: 'x' };
    expect(validate(schema, structuredClone(two))).toEqual({ value: two });
  });

  const places: [string, (list: z.ZodType) => z.ZodType, (list: unknown) => unknown][] = [
    ['at the top', (list) => list, (list) => list],
    ['in an object', (list) => z.object({ people: list.optional() }), (list) => ({ people: list })],
    ['in a record', (list) => z.record(z.string(), list), (list) => ({ any: list })],
    ['in another list', (list) => z.array(z.object({ people: list })), (list) => [{ people: [] }, { people: list }]],
    ['behind a transformation', (list) => z.object({ p: list.default([]).transform(String) }), (list) => ({ p: list })],
  ];
  it.each(places)('looks at no more elements of a list than it may have, and one: %s', (_, schemaOf, valueOf) => {
    const { element, looked } = counted();
    const schema = schemaOf(z.array(element).max(3));
    const answer = validate(schema, valueOf(Array.from({ length: 5000 }, () => ({ name: 'A' }))));
    expect(looked()).toBeLessThanOrEqual(4);
    expect(JSON.stringify(answer.error)).toMatch(/too_big|<=3/);
  });

  it('leaves a list without a bound as it is, and ends at a schema within itself', () => {
    const { element, looked } = counted();
    expect(
      validate(
        z.array(element),
        Array.from({ length: 50 }, () => ({ name: 'A' })),
      ).error,
    ).toBeUndefined();
    expect(looked()).toBe(50);
    interface Tree {
      parts: Tree[];
    }
    const tree: z.ZodType<Tree> = z.object({ parts: z.array(z.lazy(() => tree)).max(2) });
    expect(validate(tree, { parts: [{ parts: [] }] }).error).toBeUndefined();
  });
});

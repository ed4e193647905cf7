import { describe, expect, test } from 'vitest';
import { CATALOGUE } from '../../../src/domain/catalogue/catalogue.ts';
import { type Drawing, DRAWINGS, DRAWINGS_OF, EFFORTS, TOOLS } from '../../../src/web/garage/pictures/picture.tsx';
import de from '../../../src/web/garage/pictures/text/de.json' with { type: 'json' };
import en from '../../../src/web/garage/pictures/text/en.json' with { type: 'json' };

const KEYS = new Set(CATALOGUE.map(({ key }) => key));
const names = Object.keys(DRAWINGS);

describe.each(Object.entries(DRAWINGS as Readonly<Record<string, Drawing>>))('%s', (name, drawing) => {
  const paths = Object.values(drawing).join('');

  test('is small, has no text in it, and is said in words in both languages', () => {
    expect(paths.length).toBeLessThanOrEqual(900);
    for (const texts of [en, de]) {
      expect(texts).toHaveProperty([`picture.${name}`]);
      const said = (texts as Record<string, string>)[`picture.${name}`] ?? '';
      // a limit that stands in a picture would be wrong for another group
      expect(said).not.toMatch(/\d+(?:[.,]\d+)? ?(?:mm|%|N·m|kPa|°C)/);
    }
  });

  test('lies on its field', () => {
    expect(paths).not.toMatch(/NaN|undefined|[^MmLlHhVvQqAaZz\d\s.,-]/);
    for (const [, x, y] of paths.matchAll(/M(-?[\d.]+) (-?[\d.]+)/g)) {
      expect(Number(x)).toBeGreaterThanOrEqual(0);
      expect(Number(x)).toBeLessThanOrEqual(240);
      expect(Number(y)).toBeGreaterThanOrEqual(0);
      expect(Number(y)).toBeLessThanOrEqual(160);
    }
  });

  test('shows something that is asked', () => {
    expect(Object.values(DRAWINGS_OF).some((of) => (of as readonly string[]).includes(name))).toBe(true);
  });
});

test('items, drawings and tools are those that there are', () => {
  for (const [item, of] of Object.entries(DRAWINGS_OF)) {
    expect(KEYS).toContain(item);
    for (const name of of) expect(names).toContain(name);
  }
  for (const [item, { tools, minutes }] of Object.entries(EFFORTS)) {
    expect(KEYS).toContain(item);
    expect(minutes).toBeGreaterThan(0);
    expect(new Set(tools).size).toBe(tools.length);
  }
  for (const tool of TOOLS) for (const texts of [en, de]) expect(texts).toHaveProperty([`tool.${tool}`]);
});

test('whatever is measured with an instrument says which', () => {
  const measured = CATALOGUE.filter(({ answer }) => answer.kind === 'number' && answer.uncertainty !== undefined);
  const silent = measured.filter(({ key, answeredBy }) => answeredBy !== 'inspector' && EFFORTS[key] === undefined);
  expect(silent.map(({ key }) => key)).toEqual([]);
});

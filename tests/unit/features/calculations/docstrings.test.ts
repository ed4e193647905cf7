import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

// House rule: whoever calls a function of the trade reads in its docstring what goes in and out with units, what it
// throws, and where it comes from.

const FOLDER = new URL('../../../../src/domain/trade/', import.meta.url);
const FILES = readdirSync(FOLDER, { recursive: true, encoding: 'utf8' }).filter((file) => file.endsWith('.ts'));

/** Compared with case; a letter that is also a quantity (`m·g`) counts only where it stands alone. */
const SYMBOLS =
  'mm|cm|m|km|kg|g|s|h|J|kJ|MJ|N|W|K|V|%|°|°C|°F|Ω|kPa|MPa|psi|dB|kg/m³|m/s|m/s²|m²|mm²|km/h|W/kg|J/kg|Ω/V|mm²/s|cal/cm²|' +
  String.raw`dB\(A\)|N·m|J/\(kg·K\)|W/\(m²·K\)|mm/MJ|MJ/kg|YYYY-MM-DD`;
const WORDS =
  '[Uu]nits?|[Mm]illimetres?|metres?|degrees?|seconds?|minutes?|hours?|days?|weeks?|months?|years?|sessions?|laps?|miles?|' +
  'percent|erlangs?|shares?|probability';
const HAS_UNITS = new RegExp(String.raw`(?<=[\s(\d])(?:${SYMBOLS})(?=[\s,.;:)]|$)|\b(?:${WORDS})\b`, 'u');
const HAS_ERRORS = /@throws|\bnever throws\b|\btotal\b/iu;
const HAS_SOURCE =
  /@see|\bsources?:|\bpublished\b|\btextbook\b|\bfrom memory\b|\bcommon practice\b|\bderived\b|\bby definition\b/iu;

/** Functions that other files can call, as the module gives them. Classes are no functions of the trade. */
async function exportedFunctions(file: string): Promise<string[]> {
  const module = (await import(new URL(file, FOLDER).href)) as Record<string, unknown>;
  return Object.entries(module)
    .filter(([, value]) => typeof value === 'function' && !String(value).startsWith('class'))
    .map(([name]) => name);
}

/** Text of the comment right above the declaration; empty where there is none. */
function docstringOf(source: string, name: string): string {
  const found = new RegExp(
    String.raw`/\*\*((?:(?!\*/)[\s\S])*)\*/\nexport (?:async )?(?:function|const) ${name}\b`,
    'u',
  ).exec(source);
  return (found?.[1] ?? '').replaceAll(/\n \* ?/gu, ' ');
}

function missingIn(docstring: string): string[] {
  if (docstring.trim() === '') return ['a docstring'];
  return [
    ...(HAS_UNITS.test(docstring) ? [] : ['units']),
    ...(HAS_ERRORS.test(docstring) ? [] : ['errors']),
    ...(HAS_SOURCE.test(docstring) ? [] : ['a source']),
  ];
}

test('the check itself sees what is missing', () => {
  expect(missingIn('')).toEqual(['a docstring']);
  expect(missingIn('Force from mass and acceleration: F = m·a.')).toEqual(['units', 'errors', 'a source']);
  expect(missingIn('Force in N. Never throws. Source: mechanics.')).toEqual([]);
  expect(missingIn("The driver's pads.")).toEqual(['units', 'errors', 'a source']);
});

test.each(FILES)('%s: every exported function says units, errors and source', async (file) => {
  const source = readFileSync(new URL(file, FOLDER), 'utf8');
  const missing = (await exportedFunctions(file)).flatMap((name) =>
    missingIn(docstringOf(source, name)).map((what) => `${name} lacks ${what}`),
  );
  expect(missing).toEqual([]);
});

test('there are functions to look at', async () => {
  const all = await Promise.all(FILES.map(exportedFunctions));
  expect(all.flat().length).toBeGreaterThan(100);
});

import { Composer, type Document, Lexer, LineCounter, Parser } from 'yaml';
import { findHostile } from './yaml-limits.ts';
import { makeYamlSource, type YamlSource } from './yaml-source.ts';
import { buildValue, type Note, type YamlFault } from './yaml-value.ts';

export type YamlRead = { ok: true; value: unknown; source: YamlSource } | { ok: false; faults: YamlFault[] };

const MAX_FAULTS = 20;
/** The library's own test for equal keys compares each with each, and its long messages copy the text: both are off. */
const OPTIONS = {
  version: '1.2',
  schema: 'core',
  resolveKnownTags: false,
  strict: true,
  uniqueKeys: false,
  prettyErrors: false,
} as const;
const LEXEMES_PER_STEP = 200;

type Token = Parameters<typeof findHostile>[0][number];

function* readTokens(text: string, lines: LineCounter): Generator<undefined, Token[]> {
  const parser = new Parser(lines.addNewLine);
  lines.addNewLine(0);
  const tokens: Token[] = [];
  let count = 0;
  for (const lexeme of new Lexer().lex(text)) {
    tokens.push(...parser.next(lexeme));
    count += 1;
    if (count % LEXEMES_PER_STEP === 0) yield;
  }
  tokens.push(...parser.end());
  return tokens;
}

function noteOfLibrary(document: Document.Parsed, note: Note): void {
  // an unknown tag is only a warning there; for us a value of unknown meaning is a fault
  for (const { message, pos } of [...document.errors, ...document.warnings]) note('', message, pos[0]);
  const { yaml } = document.directives;
  if (yaml.explicit && yaml.version !== '1.2') note('', 'only YAML 1.2 is read here', 0);
}

/**
 * Reads one YAML 1.2 document (core schema) as JSON could have said it, in steps of a few milliseconds.
 *
 * Refused, with their place: custom tags, equal keys, a second document, keys that are no texts, aliases that would
 * make much more of the text than it is, and what JSON bodies are refused for (depth, numbers, characters). The time
 * it takes grows with the length of the text, whatever is in it.
 *
 * @returns the value and where its parts stand in the text; or the faults, with 1-based line and column
 */
export function* readYamlInSteps(text: string): Generator<undefined, YamlRead> {
  const lines = new LineCounter();
  const faults: YamlFault[] = [];
  const placeAt = (offset: number) => {
    const { line, col } = lines.linePos(offset);
    return { line: Math.max(line, 1), column: Math.max(col, 1) };
  };
  const note: Note = (pointer, detail, offset) => {
    if (faults.length < MAX_FAULTS) faults.push({ pointer, code: 'bad-yaml', detail, place: placeAt(offset) });
  };
  const tokens = yield* readTokens(text, lines);
  const hostile = findHostile(tokens);
  if (hostile !== undefined) note('', hostile.detail, hostile.offset);
  if (text.includes('\u0000')) note('', 'must not hold U+0000', text.indexOf('\u0000'));
  if (faults.length > 0) return { ok: false, faults };
  const [document, second] = new Composer(OPTIONS).compose(tokens, true, text.length);
  yield;
  if (document === undefined) return { ok: false, faults };
  noteOfLibrary(document, note);
  if (second !== undefined) note('', 'a second document begins here: send one', second.range[0]);
  if (faults.length > 0) return { ok: false, faults };
  const built = buildValue(document.contents, { note, lineAt: (offset) => placeAt(offset).line });
  if (faults.length > 0) return { ok: false, faults };
  return { ok: true, value: built.value, source: makeYamlSource({ text, document, placeAt, targets: built.targets }) };
}

/** `readYamlInSteps` in one go. */
export function readYaml(text: string): YamlRead {
  const steps = readYamlInSteps(text);
  for (let step = steps.next(); ; step = steps.next()) if (step.done) return step.value;
}

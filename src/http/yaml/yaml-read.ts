import { Composer, type CST, type Document, Lexer, LineCounter, Parser } from 'yaml';
import { makeYamlSource, NestedTooDeeply, openDepth, type YamlSource } from './yaml-source.ts';
import { buildValue, type Note, type YamlFault } from './yaml-value.ts';

/** Values may nest 40 deep as in JSON; the text nests a little deeper, because a list in a map is two things. */
const MAX_TOKEN_DEPTH = 90;
const MAX_PROPERTIES = 2;

type Nested = CST.Token | undefined | null;
type Container = CST.BlockMap | CST.BlockSequence | CST.FlowCollection;

const isContainer = (token: CST.Token): token is Container =>
  token.type === 'block-map' || token.type === 'block-seq' || token.type === 'flow-collection';

function partsOf(token: CST.Token): Nested[] {
  if (token.type === 'document') return [token.value];
  return isContainer(token) ? token.items.flatMap((item) => [item.key, item.value]) : [];
}

/** Tags and anchors stand before a value, one of each. */
function findStacked(token: CST.Token): number | undefined {
  const starts =
    token.type === 'document'
      ? [token.start]
      : isContainer(token)
        ? token.items.flatMap((item) => [item.start, item.sep ?? []])
        : [];
  for (const start of starts) {
    const properties = start.filter(({ type }) => type === 'tag' || type === 'anchor');
    if (properties.length > MAX_PROPERTIES) return properties[MAX_PROPERTIES]?.offset;
  }
  return undefined;
}

/**
 * What would make the rest of reading slow or exhaust the stack, before anything walks the tree by recursion: texts
 * of brackets alone, or of tags alone.
 */
function findHostile(tokens: readonly CST.Token[]): { offset: number; detail: string } | undefined {
  let level: CST.Token[] = [...tokens];
  for (let depth = 0; level.length > 0; depth += 1) {
    const [first] = level;
    if (depth > MAX_TOKEN_DEPTH) {
      return { offset: first !== undefined && 'offset' in first ? first.offset : 0, detail: 'nested too deeply' };
    }
    const stacked = level.map(findStacked).find((offset) => offset !== undefined);
    if (stacked !== undefined) return { offset: stacked, detail: 'a value can have one tag and one anchor' };
    level = level.flatMap(partsOf).filter((token) => token !== undefined && token !== null);
  }
  return undefined;
}

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

type Token = Parameters<typeof findHostile>[0][number];

function readTokens(text: string, lines: LineCounter): Token[] {
  const parser = new Parser(lines.addNewLine);
  lines.addNewLine(0);
  const tokens: Token[] = [];
  const depth = openDepth();
  for (const lexeme of new Lexer().lex(text)) {
    depth.note(lexeme);
    for (const token of parser.next(lexeme)) tokens.push(token);
  }
  for (const token of parser.end()) tokens.push(token);
  return tokens;
}

/** What the library may say where a fault is. */
type FaultAt = number | readonly [number, ...number[]] | { offset: number } | { range: readonly [number, ...number[]] };

const offsetOf = (at: FaultAt): number =>
  typeof at === 'number' ? at : 'offset' in at ? at.offset : ('range' in at ? at.range : at)[0];

/** Ends the reading of a text with more faults than are told. */
class EnoughFaults extends Error {}

/**
 * Composes the documents of a text. The library makes an error, with its stack, of each fault, and there may be one for
 * each character: they are noted as they come, and reading ends with the last that is told.
 */
function compose(tokens: readonly Token[], text: string, note: (detail: string, offset: number) => void) {
  const composer = new Composer(OPTIONS);
  let count = 0;
  // An unknown tag is only a warning there; for us a value of unknown meaning is a fault.
  const onError = (at: FaultAt, _code: string, message: string) => {
    note(message, offsetOf(at));
    count += 1;
    if (count >= MAX_FAULTS) throw new EnoughFaults();
  };
  Object.assign(composer, { onError });
  try {
    return [...composer.compose(tokens, true, text.length)];
  } catch (error) {
    if (error instanceof EnoughFaults) return [];
    throw error;
  }
}

function refuseVersion({ directives: { yaml } }: Document.Parsed, note: Note): void {
  if (yaml.explicit && yaml.version !== '1.2') note('', 'only YAML 1.2 is read here', 0);
}

/**
 * Reads one YAML 1.2 document (core schema) as JSON could have said it.
 *
 * Refused, with their place: custom tags, equal keys, a second document, keys that are no texts, aliases that would
 * make much more of the text than it is, and what JSON bodies are refused for (depth, numbers, characters). The time
 * it takes grows with the length of the text, whatever is in it; of 500 kB it can still be a second.
 *
 * @returns the value and where its parts stand in the text; or the first faults, with 1-based line and column
 */
export function readYaml(text: string): YamlRead {
  const lines = new LineCounter();
  const faults: YamlFault[] = [];
  const placeAt = (offset: number) => {
    const { line, col } = lines.linePos(offset);
    return { line: Math.max(line, 1), column: Math.max(col, 1) };
  };
  const note: Note = (pointer, detail, offset) => {
    if (faults.length < MAX_FAULTS) faults.push({ pointer, code: 'bad-yaml', detail, place: placeAt(offset) });
  };
  let tokens: Token[];
  try {
    tokens = readTokens(text, lines);
  } catch (error) {
    if (!(error instanceof NestedTooDeeply)) throw error;
    note('', error.message, error.offset);
    return { ok: false, faults };
  }
  const hostile = findHostile(tokens);
  if (hostile !== undefined) note('', hostile.detail, hostile.offset);
  if (text.includes('\u0000')) note('', 'must not hold U+0000', text.indexOf('\u0000'));
  if (faults.length > 0) return { ok: false, faults };
  const [document, second] = compose(tokens, text, (detail, offset) => note('', detail, offset));
  if (document === undefined) return { ok: false, faults };
  refuseVersion(document, note);
  if (second !== undefined) note('', 'a second document begins here: send one', second.range[0]);
  if (faults.length > 0) return { ok: false, faults };
  const built = buildValue(document.contents, { note, lineAt: (offset) => placeAt(offset).line });
  if (faults.length > 0) return { ok: false, faults };
  return { ok: true, value: built.value, source: makeYamlSource({ text, document, placeAt, targets: built.targets }) };
}

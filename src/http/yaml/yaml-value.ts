import { type Alias, isAlias, isMap, isScalar, isSeq, type ParsedNode, stringify, type YAMLMap } from 'yaml';
import { jsonPointer } from '../../domain/json-pointer.ts';
import { findUnstorable } from '../body/json-body.ts';

/** A place in a text, 1-based. */
export interface YamlPlace {
  line: number;
  column: number;
}

export interface YamlFault {
  pointer: string;
  code: 'bad-yaml';
  detail: string;
  place: YamlPlace;
}

export type Note = (pointer: string, detail: string, offset: number) => void;

/** What aliases stand for; the same alias stands for one thing wherever it is met again. */
export type Targets = ReadonlyMap<Alias, ParsedNode>;

interface Build {
  note: Note;
  lineAt(offset: number): number;
  anchors: Map<string, ParsedNode>;
  targets: Map<Alias, ParsedNode>;
  /** what is being built, so that nothing is built of itself */
  open: Set<ParsedNode>;
  /** inside an alias: what it stands for was met before, and counts against the limits */
  isRepeat: boolean;
  repeated: number;
}

/** What aliases may add to a document: values, and characters of texts. */
const MAX_REPEATED = 200_000;
const COST_OF_VALUE = 20;
const MAX_DEPTH = 40;

type Path = readonly (string | number)[];

const startOf = (node: { range?: readonly number[] | null } | null | undefined): number => node?.range?.[0] ?? 0;

function fromAlias(build: Build, node: Alias.Parsed, path: Path): unknown {
  const target = build.targets.get(node) ?? build.anchors.get(node.source);
  const refuse = (detail: string) => build.note(jsonPointer(path), detail, startOf(node));
  if (target === undefined) return refuse(`there is no anchor ${JSON.stringify(node.source)} before this`);
  if (build.open.has(target)) return refuse('an alias must not stand inside what it stands for');
  if (build.repeated > MAX_REPEATED) return undefined;
  build.targets.set(node, target);
  const isOuter = !build.isRepeat;
  build.isRepeat = true;
  const value = fromNode(build, target, path);
  if (isOuter) build.isRepeat = false;
  if (build.repeated > MAX_REPEATED && isOuter) refuse('aliases repeat too much of the text');
  return value;
}

function keyOf(build: Build, key: unknown, path: Path): string | undefined {
  if (isScalar(key) && key.value !== null) {
    const text = typeof key.value === 'string' ? key.value : key.source;
    if (text !== undefined && text !== '__proto__') return text;
  }
  const offset = isScalar(key) || isMap(key) || isSeq(key) ? startOf(key) : 0;
  build.note(jsonPointer(path), 'a key must be a text, and not __proto__', offset);
  return undefined;
}

function fromMap(build: Build, node: YAMLMap.Parsed, path: Path): unknown {
  const built: Record<string, unknown> = {};
  const lines = new Map<string, number>();
  for (const { key, value } of node.items) {
    const name = keyOf(build, key, path);
    if (name === undefined) continue;
    const before = lines.get(name);
    if (before !== undefined) {
      const detail = `this key is there already, in line ${before}`;
      build.note(jsonPointer([...path, name]), detail, startOf(key));
    }
    lines.set(name, build.lineAt(startOf(key)));
    built[name] = fromNode(build, value, [...path, name]);
  }
  return built;
}

function fromNode(build: Build, node: ParsedNode | null, path: Path): unknown {
  if (node === null) return null;
  if (isAlias(node)) return fromAlias(build, node, path);
  if (path.length > MAX_DEPTH) {
    build.note(jsonPointer(path), `must not be nested more than ${MAX_DEPTH} levels deep`, startOf(node));
    return undefined;
  }
  if (node.anchor !== undefined && !build.isRepeat) build.anchors.set(node.anchor, node);
  if (build.isRepeat) {
    build.repeated += COST_OF_VALUE + (isScalar(node) ? String(node.value).length : 0);
    if (build.repeated > MAX_REPEATED) return undefined;
  }
  if (isScalar(node)) return node.value;
  build.open.add(node);
  const value = isMap(node)
    ? fromMap(build, node, path)
    : node.items.map((item, index) => fromNode(build, item, [...path, index]));
  build.open.delete(node);
  return value;
}

/** The offset of the deepest part that a path leads to. */
function offsetAt(root: ParsedNode | null, path: Path): number {
  let node: unknown = root;
  for (const step of path) {
    const next = isMap(node) || isSeq(node) ? node.get(step, true) : undefined;
    if (next === undefined || next === null) break;
    node = next;
  }
  return isScalar(node) || isMap(node) || isSeq(node) || isAlias(node) ? startOf(node) : 0;
}

/** Makes plain JSON of a parsed document; what cannot be is noted. */
export function buildValue(
  root: ParsedNode | null,
  { note, lineAt }: Pick<Build, 'note' | 'lineAt'>,
): { value: unknown; targets: Targets } {
  const build: Build = {
    note,
    lineAt,
    anchors: new Map(),
    targets: new Map(),
    open: new Set(),
    isRepeat: false,
    repeated: 0,
  };
  const value = fromNode(build, root, []);
  const unstorable = findUnstorable(value);
  if (unstorable !== undefined) {
    note(jsonPointer(unstorable.path), unstorable.message, offsetAt(root, unstorable.path));
  }
  return { value, targets: build.targets };
}

type Order = (one: string, other: string) => number;

function ordered(value: unknown, order: Order): unknown {
  if (Array.isArray(value)) return value.map((part) => ordered(part, order));
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value).toSorted(([one], [other]) => order(one, other));
  // a Map keeps this order also for keys that look like numbers
  return new Map(entries.map(([key, part]) => [key, ordered(part, order)]));
}

/** Keys in the order given, those that are not in it behind them by their characters. */
export function keyOrder(first: readonly string[]): Order {
  const rank = new Map(first.map((key, index) => [key, index]));
  const rankOf = (key: string) => rank.get(key) ?? first.length;
  return (one, other) => rankOf(one) - rankOf(other) || (one < other ? -1 : one > other ? 1 : 0);
}

/** JSON as YAML 1.2, always the same text for the same value; reading it gives the value back. */
export function writeYaml(value: unknown, order: Order): string {
  return stringify(ordered(value, order), {
    version: '1.2',
    schema: 'core',
    aliasDuplicateObjects: false,
    lineWidth: 110,
    minContentWidth: 40,
  });
}

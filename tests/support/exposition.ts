/** One line of the Prometheus text format. */
export interface Sample {
  name: string;
  labels: Record<string, string>;
  value: number;
}

export interface Exposition {
  samples: Sample[];
  types: ReadonlyMap<string, string>;
}

const NAME = '[a-zA-Z_:][a-zA-Z0-9_:]*';
const LABEL = '[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\\\\n]|\\\\["\\\\n])*"';
const VALUE = '[+-]?(?:Inf|NaN|(?:\\d+\\.?\\d*|\\.\\d+)(?:[eE][+-]?\\d+)?)';
const HELP_LINE = new RegExp(`^# HELP (${NAME}) (?:[^\\\\\\n]|\\\\[\\\\n])*$`);
const TYPE_LINE = new RegExp(`^# TYPE (${NAME}) (counter|gauge|histogram|summary|untyped)$`);
const SAMPLE_LINE = new RegExp(`^(${NAME})(?:\\{((?:${LABEL})(?:,${LABEL})*),?\\})? (${VALUE})(?: -?\\d+)?$`);

/**
 * Reads the text format strictly; throws at the first line that does not fit. Source: Prometheus documentation,
 * "Exposition formats", text format 0.0.4 (prometheus.io/docs/instrumenting/exposition_formats): every line ends with
 * \n; one HELP and one TYPE per name, TYPE before its samples, the five types, escapes. From memory: the lines of a
 * metric are one group, no two samples are alike, the grammar of names; counters are never negative.
 */
export function parseExposition(text: string): Exposition {
  if (!text.endsWith('\n')) throw new Error('the last line does not end');
  const reading: Reading = { samples: [], types: new Map(), seen: new Set(), closed: new Set(), group: '' };
  for (const line of text.slice(0, -1).split('\n')) {
    if (line.startsWith('#')) readComment(reading, line);
    else if (line !== '') addSample(reading, line);
  }
  return reading;
}

interface Reading extends Exposition {
  types: Map<string, string>;
  seen: Set<string>;
  /** metrics whose group of lines is over */
  closed: Set<string>;
  /** metric whose lines are being read */
  group: string;
}

function readComment(reading: Reading, line: string): void {
  const help = HELP_LINE.exec(line)?.[1];
  const [, name = help, type] = TYPE_LINE.exec(line) ?? [];
  if (name === undefined) throw new Error(`a comment of no known kind: ${line}`);
  once(reading.seen, `${type === undefined ? 'HELP' : 'TYPE'} ${name}`, line);
  enter(reading, name, line);
  if (type === undefined) return;
  if (reading.samples.some((sample) => sample.name === name)) throw new Error(`after its samples: ${line}`);
  reading.types.set(name, type);
}

function addSample(reading: Reading, line: string): void {
  const sample = readSample(line);
  const family = familyOf(sample.name, reading.types);
  enter(reading, family, line);
  once(reading.seen, JSON.stringify([sample.name, Object.entries(sample.labels).toSorted()]), line);
  if (reading.types.get(family) === 'counter' && !(sample.value >= 0)) throw new Error(`a counter below 0: ${line}`);
  reading.samples.push(sample);
}

function enter(reading: Reading, name: string, line: string): void {
  if (name === reading.group) return;
  if (reading.closed.has(name)) throw new Error(`the lines of ${name} are not together: ${line}`);
  reading.closed.add(reading.group);
  reading.group = name;
}

function once(seen: Set<string>, key: string, line: string): void {
  if (seen.has(key)) throw new Error(`twice: ${line}`);
  seen.add(key);
}

function readSample(line: string): Sample {
  const [, name, labels = '', value] = SAMPLE_LINE.exec(line) ?? [];
  if (name === undefined || value === undefined) throw new Error(`not a sample: ${line}`);
  const pairs = [...labels.matchAll(/([a-zA-Z0-9_]+)="((?:[^"\\]|\\.)*)"/g)].map(
    (match) =>
      [match[1] ?? '', (match[2] ?? '').replaceAll(/\\(.)/g, (_all, c: string) => (c === 'n' ? '\n' : c))] as const,
  );
  if (new Set(pairs.map(([key]) => key)).size !== pairs.length) throw new Error(`a label twice: ${line}`);
  return { name, labels: Object.fromEntries(pairs), value: Number(value.replace('Inf', 'Infinity')) };
}

/** The metric that a sample belongs to: those of histograms and summaries have endings. */
function familyOf(name: string, types: ReadonlyMap<string, string>): string {
  const base = name.replace(/_(?:bucket|sum|count)$/, '');
  return ['histogram', 'summary'].includes(types.get(base) ?? '') ? base : name;
}

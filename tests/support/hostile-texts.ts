import { randomBytes } from 'node:crypto';

/** Texts that once stopped the server for seconds. Each is new every time, so that nothing kept answers it. */
export interface HostileText {
  name: string;
  type: 'application/yaml' | 'application/json';
  make(): string;
}

const salt = () => randomBytes(4).toString('hex');
const many = <T>(count: number, make: (at: number) => T) => Array.from({ length: count }, (_, at) => make(at));

const WORDS = {
  message: 'Not as it must be.',
  fix: 'Mend it.',
  effect: 'bar',
  basis: { kind: 'common-practice' },
};

/** Rules that are expressions, and examples that all of them judge, each with event days of its own. */
function manyExamples(rules: number, examples: number): unknown {
  const day = (at: number) => new Date(Date.UTC(2026, 0, 1 + (at % 360))).toISOString().slice(0, 10);
  return {
    name: `Rules ${salt()}`,
    parameters: {},
    rules: many(rules, (at) => ({
      ...WORDS,
      id: `rule-${at}`,
      title: `Rule ${at}`,
      items: ['brake.pedal'],
      test: { kind: 'expression', expr: `brake.pedal == 'firm' || brake.pedal == 'long' && ${at} > 0` },
    })),
    examples: many(examples, (at) => ({
      name: `Example ${at}`,
      vehicle: { description: 'Car', body: 'closed', powertrain: 'combustion' },
      answers: { 'brake.pedal': 'firm' },
      event: { startsOn: day(at), endsOn: day(at) },
      expect: 'clean',
    })),
  };
}

export const HOSTILE_TEXTS: readonly HostileText[] = [
  {
    name: '20,000 unknown keys',
    type: 'application/yaml',
    make() {
      const name = salt();
      return many(20_000, (at) => `key-${name}-${at}: 1`).join('\n');
    },
  },
  { name: '500,000 quotes', type: 'application/yaml', make: () => `# ${salt()}\n${'"'.repeat(500_000)}` },
  { name: '500,000 brackets', type: 'application/yaml', make: () => `# ${salt()}\na: ${'['.repeat(500_000)}` },
  { name: '170,000 empty texts', type: 'application/yaml', make: () => `# ${salt()}\n[${'"",'.repeat(165_000)}]` },
  {
    name: '25,000 parameters that no rule uses',
    type: 'application/yaml',
    make: () =>
      `name: ${salt()}\nparameters:\n${many(25_000, (at) => `  p${at}: 1`).join('\n')}\nrules: []\nexamples: []\n`,
  },
  {
    name: '300 expression rules and 600 examples',
    type: 'application/json',
    make: () => JSON.stringify(manyExamples(300, 600)),
  },
  {
    name: '20,000 unknown keys as JSON',
    type: 'application/json',
    make() {
      const name = salt();
      return JSON.stringify(Object.fromEntries(many(20_000, (at) => [`key-${name}-${at}`, 1])));
    },
  },
  { name: 'deep JSON', type: 'application/json', make: () => `{"${salt()}":${'['.repeat(400_000)}` },
];

/** A declaration of half a megabyte that knows no item. */
export const hostileDeclaration = (): string =>
  JSON.stringify({ answers: Object.fromEntries(many(24_000, (at) => [`${salt()}${at}`, 1])) });

import { ProblemError } from '../../http/problem.ts';
import { JsonObject } from '../../http/json-object.ts';
import { readYamlInSteps, type YamlRead } from '../../http/yaml-read.ts';
import type { Draft } from './check-draft.ts';
import { runInSlices } from '../../platform/in-slices.ts';
import { Name } from './schemas.ts';

type Read = Extract<YamlRead, { ok: true }>;

const describe = (faults: readonly { detail: string; place: { line: number; column: number } }[]): string =>
  faults
    .slice(0, 3)
    .map(({ detail, place }) => `line ${place.line}, column ${place.column}: ${detail}`)
    .join('; ');

async function readText(text: string): Promise<Read> {
  const read = await runInSlices(readYamlInSteps(text));
  if (read.ok) return read;
  throw new ProblemError('malformed-yaml', `In the body: ${describe(read.faults)}`, { errors: read.faults });
}

function refuse({ source }: Read, pointer: string, code: string, detail: string): ProblemError {
  const fault = { pointer, code, detail, in: 'body', place: source.placeOf(pointer) };
  return new ProblemError('invalid-request', `In the body: ${describe([fault])}`, { errors: [fault] });
}

/**
 * Reads a draft that was written as YAML: the rule set itself, whose `name` is the name in lists.
 *
 * @throws ProblemError `malformed-yaml`; `invalid-request` when it is no map or has no usable name
 */
export async function readYamlDraft(text: string): Promise<Draft & { name: string }> {
  const read = await readText(text);
  const document = JsonObject.safeParse(read.value);
  if (!document.success) throw refuse(read, '', 'invalid-type', 'a rule set is a map');
  const name = Name.safeParse(document.data['name']);
  if (!name.success) throw refuse(read, '/name', 'invalid-type', 'a draft needs a name, a text of one line');
  return { name: name.data, document: document.data, text };
}

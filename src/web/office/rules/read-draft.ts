import { call } from '../../api/call.ts';
import { getRuleSet, listRuleSets } from '../../api/operations.ts';

export type Format = 'yaml' | 'json';
export const YAML = 'application/yaml';

/** A draft as text. */
export interface Draft {
  ruleSetId: string;
  name: string;
  text: string;
  format: Format;
  etag: string | undefined;
}

/** As YAML only the text is read: with the JSON comes a check, which takes the server a while and is asked for anyway. */
export async function readDraft(ruleSetId: string, format: Format, token: string): Promise<Draft> {
  const params = { ruleSetId };
  if (format === 'json') {
    const { body, etag } = await call(getRuleSet, { params }, { token });
    return { ruleSetId, name: body.name, text: JSON.stringify(body.document, null, 2), format, etag };
  }
  const [list, yaml] = await Promise.all([
    call(listRuleSets, {}, { token }),
    call(getRuleSet, { params }, { token, accept: YAML }),
  ]);
  const name = list.body.ruleSets.find((one) => one.ruleSetId === ruleSetId)?.name ?? ruleSetId;
  // With this `Accept` the body is the text itself, which arrives as a file.
  return { ruleSetId, name, text: await (yaml.body as unknown as Blob).text(), format, etag: yaml.etag };
}

/** What was typed and not saved, kept over a reload of the page. */
export interface Unsaved {
  text: string;
  format: Format;
  etag: string | undefined;
}

const keyOf = (ruleSetId: string): string => `gridworthy.office.draft.${ruleSetId}`;

export function readUnsaved(ruleSetId: string): Unsaved | undefined {
  try {
    return JSON.parse(sessionStorage.getItem(keyOf(ruleSetId)) ?? 'null') ?? undefined;
  } catch {
    // Not ours: there is nothing to go on with.
    return undefined;
  }
}

export function keepUnsaved(ruleSetId: string, unsaved: Unsaved | undefined): void {
  if (unsaved === undefined) sessionStorage.removeItem(keyOf(ruleSetId));
  else sessionStorage.setItem(keyOf(ruleSetId), JSON.stringify(unsaved));
}

import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  checkRuleSetDocument,
  getRuleSet,
  listRuleSets,
  replaceRuleSet,
  type RuleSetCheck,
} from '../../api/operations.ts';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { type Trouble, troubleOf } from '../parts/panel.tsx';
import { text } from '../text.ts';

const QUIET_MS = 500;

export interface Checked {
  /** of the newest text that was checked */
  check: RuleSetCheck | undefined;
  /** the text is newer than the check */
  pending: boolean;
  trouble: Trouble | undefined;
}

/** Lets the server check a text when nobody has typed for a moment. JSON is sent as YAML, which it is, for line and column. */
export function useCheck(text: string, token: string): Checked {
  const [state, setState] = useState<{ of: string | undefined; check?: RuleSetCheck; trouble?: Trouble }>({
    of: undefined,
  });
  useEffect(() => {
    const stop = new AbortController();
    const { signal } = stop;
    const timer = setTimeout(() => {
      call(checkRuleSetDocument, { body: text }, { token, type: YAML, signal }).then(
        ({ body }) => {
          if (!signal.aborted) setState({ of: text, check: body });
        },
        (error: unknown) => {
          if (!signal.aborted) setState((old) => ({ ...old, of: text, trouble: troubleOf(error) }));
        },
      );
    }, QUIET_MS);
    return () => {
      clearTimeout(timer);
      stop.abort();
    };
  }, [text, token]);
  return { check: state.check, pending: state.of !== text, trouble: state.trouble };
}

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

/** What is typed into a draft and what is saved of it; what is not saved survives a reload of the page. */
export function useDraft(draft: Draft, office: OfficeContext) {
  const { ruleSetId, name, format } = draft;
  const unsaved = readUnsaved(ruleSetId);
  const [saved, setSaved] = useState({ text: draft.text, etag: unsaved?.etag ?? draft.etag });
  const [typed, setTyped] = useState(unsaved?.text ?? draft.text);
  const type = (next: string): void => {
    setTyped(next);
    keepUnsaved(ruleSetId, next === saved.text ? undefined : { text: next, format, etag: saved.etag });
  };
  const save = async (): Promise<void> => {
    const headers = saved.etag === undefined ? {} : { 'if-match': saved.etag };
    const input = { params: { ruleSetId }, headers, body: bodyOf(typed, format, name) };
    const sent = await call(replaceRuleSet, input, {
      token: office.token,
      ...(format === 'yaml' ? { type: YAML } : {}),
    });
    setSaved({ text: typed, etag: sent.etag });
    keepUnsaved(ruleSetId, undefined);
    say(text.t('draft.saved'));
  };
  return { saved, setSaved, typed, type, save };
}

function bodyOf(typed: string, format: Format, name: string) {
  if (format === 'yaml') return typed;
  const document = JSON.parse(typed) as Record<string, unknown>;
  return { name: typeof document['name'] === 'string' ? document['name'] : name, document };
}

import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { replaceRuleSet } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { say } from '../parts/say.ts';
import { text } from '../text.ts';
import { type Draft, type Format, keepUnsaved, readUnsaved, YAML } from './read-draft.ts';

/** What is typed into a draft and what is saved of it; what is not saved survives a reload of the page. */
export function useDraft(draft: Draft, desk: Desk) {
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
    const sent = await call(replaceRuleSet, input, { token: desk.token, ...(format === 'yaml' ? { type: YAML } : {}) });
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

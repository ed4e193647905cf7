import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { checkRuleSetDocument, type RuleSetCheck } from '../../api/operations.ts';
import { type Trouble, troubleOf } from '../parts/trouble.ts';
import { YAML } from './read-draft.ts';

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

import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { getOwnToken } from '../api/operations.ts';
import { Frame } from './frame.tsx';
import { forgetSession, keepSession, type Page, readSession, type Session, takeTokenFromAddress } from './session.ts';
import { words } from './text.ts';

const { t } = words;

const FIELD = /^(?:cell|item)-/;

interface AccessProps {
  page: Page;
  /** heading while there is no access */
  title: string;
  /** beside the words to whoever has no access: another way in */
  otherWay?: ComponentChildren;
  children(session: Session): ComponentChildren;
}

type State =
  | { kind: 'asking' }
  | { kind: 'none' }
  /** name of the text: it may be too early for the text itself */
  | { kind: 'failed'; why: 'session.refused' | 'network.none' }
  | { kind: 'has'; session: Session };

/**
 * Shows its content to a device that has access: by what it keeps, or by the token in the address it was opened with.
 * What is kept is believed without asking, because a page must start without a network; the server decides at each call.
 */
export function Access({ page, title, otherWay, children }: AccessProps) {
  const [state, setState] = useState<State>({ kind: 'asking' });
  useEffect(() => {
    void begun(page).then(setState);
  }, [page]);
  if (state.kind === 'has') return <>{children(state.session)}</>;
  return (
    <Frame title={title}>
      {state.kind === 'asking' && <p role="status">{t('loading')}</p>}
      {state.kind === 'failed' && (
        <p class="notice bad" role="alert">
          {t(state.why)}
        </p>
      )}
      {state.kind !== 'asking' && <NoAccess page={page} />}
      {state.kind !== 'asking' && otherWay}
    </Frame>
  );
}

function NoAccess({ page }: { page: Page }) {
  return (
    <section class="panel stack">
      <h2>{t('session.none.title')}</h2>
      <p>{page === 'garage' || page === 'car' ? t('session.none.entrant') : t('session.none.staff')}</p>
    </section>
  );
}

let early: { page: Page; state: Promise<State> } | undefined;

/** Asks for the access of a page before there is anything to show it in: while its texts are on their way. */
export function beginAccess(page: Page): void {
  early = { page, state: enter(page) };
}

function begun(page: Page): Promise<State> {
  const known = early?.page === page ? early.state : undefined;
  early = undefined;
  return known ?? enter(page);
}

async function enter(page: Page): Promise<State> {
  const token = takeTokenFromAddress();
  const kept = readSession(page);
  if (token === undefined) return kept === undefined ? { kind: 'none' } : { kind: 'has', session: kept };
  // Where the page was left at one of its fields, the address ends with that field.
  if (kept !== undefined && (kept.token === token || FIELD.test(token))) return { kind: 'has', session: kept };
  try {
    const { body } = await call(getOwnToken, {}, { token });
    const session: Session = { token, role: body.role, holder: body.holder, entryId: body.entryId };
    keepSession(page, session);
    return { kind: 'has', session };
  } catch (error) {
    if (error instanceof ApiProblem && error.status === 401) return { kind: 'failed', why: 'session.refused' };
    return { kind: 'failed', why: 'network.none' };
  }
}

/** Ends the access of this device and says so; to be called when the server answers 401. */
export function leave(page: Page): void {
  forgetSession(page);
  location.reload();
}

import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type CountdownView, getCountdown } from '../../api/operations.ts';
import { currentLanguage } from '../../shared/text.ts';
import type { Declaration } from '../kept/declaration.ts';

const nameOf = (entryId: string): string => `gridworthy.countdown ${entryId} ${currentLanguage()}`;

interface Kept {
  /** when the server said it, an instant */
  at: string;
  view: CountdownView;
}

function read(entryId: string): Kept | undefined {
  try {
    return (JSON.parse(localStorage.getItem(nameOf(entryId)) ?? 'null') as Kept | null) ?? undefined;
  } catch {
    // Not ours, or storage is closed: it is there once the server says it.
    return undefined;
  }
}

/** The countdown as the server says it, and as it said it last while there is no network. */
export function useCountdown({ entryId, session, base }: Declaration): { kept: Kept | undefined; failed: boolean } {
  const [kept, setKept] = useState(() => read(entryId));
  const [failed, setFailed] = useState(false);
  const { rev } = base.value;
  useEffect(() => {
    let isGone = false;
    const get = async (): Promise<void> => {
      const { body } = await call(getCountdown, { params: { entryId } }, { token: session.token });
      const now = { at: new Date().toISOString(), view: body };
      if (!isGone) setKept(now);
      if (!isGone) setFailed(false);
      localStorage.setItem(nameOf(entryId), JSON.stringify(now));
    };
    get().catch(() => {
      if (!isGone) setFailed(true);
    });
    return () => {
      isGone = true;
    };
  }, [entryId, session, rev]);
  return { kept, failed };
}

/** What this device was given: a token and what it is for. One per page, so that a phone can be two things. */
export interface Session {
  token: string;
  role: 'organizer' | 'chief' | 'inspector' | 'marshal' | 'entrant' | 'owner' | 'shop';
  holder: string;
  /** of an entrant: the entry he declares for */
  entryId?: string | undefined;
  /** of a shop: its own id */
  shopId?: string | undefined;
}

export type Page = 'garage' | 'line' | 'gate' | 'office' | 'car' | 'shop';

const keyOf = (page: Page): string => `gridworthy.session.${page}`;
// As the API takes it: a configured token has any form, of at least so many characters.
const TOKEN = /^[\x21-\x7e]{20,200}$/;

/** The session that this device keeps for a page; undefined without one, or when what is kept cannot be read. */
export function readSession(page: Page): Session | undefined {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(keyOf(page)) ?? 'null');
    return typeof kept === 'object' && kept !== null && 'token' in kept ? (kept as Session) : undefined;
  } catch {
    // Not ours, or storage is closed: the person opens the link again.
    return undefined;
  }
}

export function keepSession(page: Page, session: Session): void {
  localStorage.setItem(keyOf(page), JSON.stringify(session));
}

export function forgetSession(page: Page): void {
  localStorage.removeItem(keyOf(page));
}

/**
 * The token in the address (`#gw_…`, percent-encoded where it needs to be), which a browser sends to nobody, and takes it out of the address at once: neither
 * the history nor a screenshot keeps it.
 */
export function takeTokenFromAddress(): string | undefined {
  const token = tokenIn(location.hash.slice(1));
  if (location.hash !== '') history.replaceState(null, '', location.pathname + location.search);
  return token;
}

/** The token in the part of an address behind `#`; undefined when there is none in it. */
export function tokenIn(fragment: string): string | undefined {
  const token = decoded(fragment);
  return TOKEN.test(token) ? token : undefined;
}

function decoded(fragment: string): string {
  try {
    return decodeURIComponent(fragment);
  } catch {
    // Put together by hand: a percent sign that begins no escape stands for itself.
    return fragment;
  }
}

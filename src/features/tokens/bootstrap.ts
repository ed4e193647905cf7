import { hashToken, newToken } from '../../http/auth.ts';
import { type Db, inTransaction, type Tx } from '../../platform/db.ts';
import { findTokenByHash, hasLastingOrganizer, insertToken, lockBootstrap } from './store.ts';

const HOLDER = 'first organizer';

/** What the start found: `token` is set when one was made that must be printed once. */
export interface OrganizerBootstrap {
  token?: string;
  created: boolean;
}

/**
 * Makes sure that somebody can administer the server. A configured token is stored by its hash; without one, a token
 * is made when no organizer token works without an end. Processes that start at once take turns, so only one of them makes it.
 *
 * @throws Error when the configured token was revoked or has an end, or belongs to another role: starting with it would mislead
 */
export async function ensureOrganizerToken(db: Db, configured?: string): Promise<OrganizerBootstrap> {
  return inTransaction(db, async (tx) => {
    await lockBootstrap(tx);
    if (configured !== undefined) return { created: await storeConfigured(tx, configured) };
    if (await hasLastingOrganizer(tx)) return { created: false };
    const { token } = await makeOrganizerToken(tx, HOLDER);
    return { token, created: true };
  });
}

/** Makes an organizer token past the API: for the first start, and for set-up work of the process itself. */
export async function makeOrganizerToken(tx: Tx, holder: string): Promise<{ tokenId: string; token: string }> {
  const token = newToken();
  const { tokenId } = await insertToken(tx, { hash: hashToken(token), role: 'organizer', holder }, new Date());
  return { tokenId, token };
}

async function storeConfigured(tx: Tx, configured: string): Promise<boolean> {
  const hash = hashToken(configured);
  const known = await findTokenByHash(tx, hash, new Date());
  if (known?.revoked === true) throw new Error('ORGANIZER_TOKEN was revoked: choose a new one, or leave it out');
  if (known?.expiresAt !== undefined) throw new Error(`ORGANIZER_TOKEN ends on ${known.expiresAt}: choose another one`);
  if (known !== undefined && known.role !== 'organizer') {
    throw new Error(`ORGANIZER_TOKEN is the token of another role (${known.role}): choose a new one`);
  }
  if (known !== undefined) return false;
  await insertToken(tx, { hash, role: 'organizer', holder: HOLDER }, new Date());
  return true;
}

import { hashToken, newToken } from '../../http/access/auth.ts';
import { type Db, inTransaction, type Tx } from '../../platform/database/db.ts';
import { findTokenByHash, hasLastingOrganizer, insertToken, lockBootstrap } from './store.ts';

const HOLDER = 'first organizer';

/**
 * Stores the configured token by its hash. One that was revoked stays so, and everything else goes on without it: the
 * call that revoked it must not keep the server from starting.
 *
 * @throws Error when the configured token has an end, or belongs to another role: starting with it would mislead
 */
export async function storeConfiguredToken(db: Db, configured: string): Promise<'works' | 'revoked'> {
  return inTransaction(db, async (tx) => {
    await lockBootstrap(tx);
    const hash = hashToken(configured);
    const known = await findTokenByHash(tx, hash, new Date());
    if (known?.revoked === true) return 'revoked';
    if (known?.expiresAt !== undefined) {
      throw new Error(`ORGANIZER_TOKEN ends on ${known.expiresAt}: choose another one`);
    }
    if (known !== undefined && known.role !== 'organizer') {
      throw new Error(`ORGANIZER_TOKEN is the token of another role (${known.role}): choose a new one`);
    }
    if (known === undefined) await insertToken(tx, { hash, role: 'organizer', holder: HOLDER }, new Date());
    return 'works';
  });
}

/**
 * Makes sure that somebody can administer the server: makes a token when no organizer token works without an end.
 * Processes that start at once take turns, so only one of them makes it.
 *
 * @param show is called before the token is kept, so that none is kept that nobody has seen
 * @returns the token that was made, undefined when none was needed
 */
export async function ensureOrganizerToken(db: Db, show: (token: string) => void): Promise<string | undefined> {
  return inTransaction(db, async (tx) => {
    await lockBootstrap(tx);
    if (await hasLastingOrganizer(tx)) return undefined;
    const { token } = await makeOrganizerToken(tx, HOLDER);
    show(token);
    return token;
  });
}

/** Makes an organizer token past the API: for the first start, and for work on the machine itself. */
export async function makeOrganizerToken(tx: Tx, holder: string): Promise<{ tokenId: string; token: string }> {
  const token = newToken();
  const { tokenId } = await insertToken(tx, { hash: hashToken(token), role: 'organizer', holder }, new Date());
  return { tokenId, token };
}

import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { hashToken, newToken } from '../../http/auth.ts';
import { ProblemError } from '../../http/problem.ts';
import type { MintToken, TokenView } from './schemas.ts';
import { hasEntry, insertToken } from './store.ts';

/**
 * Makes a token. Only its hash is stored, so this answer is the one time it can be read.
 *
 * @throws ProblemError `not-acceptable` when the entry does not exist
 */
export async function mintToken(deps: Deps, actor: Actor, input: MintToken): Promise<TokenView & { token: string }> {
  if (input.entryId !== undefined && !(await hasEntry(deps.db.prisma, input.entryId))) throw unknownEntry();
  const token = newToken();
  const view = await insertToken(deps.db.prisma, { ...input, hash: hashToken(token), createdBy: actor.tokenId });
  return { ...view, token };
}

function unknownEntry(): ProblemError {
  const detail = 'There is no such entry.';
  return new ProblemError('not-acceptable', `/entryId: ${detail}`, {
    errors: [{ pointer: '/entryId', code: 'unknown-entry', detail, in: 'body' }],
  });
}

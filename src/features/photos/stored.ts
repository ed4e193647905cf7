import type { Deps } from '../../deps.ts';
import { ProblemError } from '../../http/problem.ts';
import { PhotoStoreError } from '../../platform/photo-store.ts';

/** Files of removed photos stay so long, for whoever must look into it. */
const KEPT_DAYS = 30;
const RETRY_AFTER_SECONDS = 30;

/** Photos removed before this instant are gone for good. */
export function removedPhotosKeptSince(now: Date): Date {
  return new Date(now.getTime() - KEPT_DAYS * 86_400_000);
}

/**
 * Asks the store of the photos.
 *
 * @throws ProblemError `photo-store-unavailable`
 */
export async function askStore<T>(deps: Deps, ask: (store: Deps['photos']) => Promise<T>): Promise<T> {
  try {
    return await ask(deps.photos);
  } catch (error) {
    if (!(error instanceof PhotoStoreError)) throw error;
    deps.log.error({ error }, 'photo store failed');
    const wait = { 'retry-after': String(RETRY_AFTER_SECONDS) };
    throw new ProblemError('photo-store-unavailable', 'The store of the photos does not answer.', {}, wait);
  }
}

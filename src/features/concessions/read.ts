import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { getEntryRules } from './entry-rules.ts';
import type { ConcessionRecord, ConcessionView } from './schemas.ts';
import { findClearance, findConcession, listConcessionsOfEntry } from './store.ts';
import { viewConcession, viewRecord } from './view.ts';

/**
 * All concessions of an entry with what has become of them, oldest first.
 *
 * @throws ProblemError `not-found`
 */
export async function listOfEntry(deps: Deps, entryId: string): Promise<ConcessionRecord[]> {
  const db = deps.db.prisma;
  const entry = await findClearance(db, entryId);
  if (entry === undefined) throw notFound('entry');
  const rules = await getEntryRules(db, entry);
  const now = deps.clock.now();
  return (await listConcessionsOfEntry(db, entryId)).map((concession) => viewRecord(concession, rules, now));
}

/**
 * One concession; an entrant sees those of the own entry only.
 *
 * @throws ProblemError `not-found`
 */
export async function getConcession(deps: Deps, actor: Actor, concessionId: string): Promise<ConcessionView> {
  const db = deps.db.prisma;
  const concession = await findConcession(db, concessionId);
  const hidden = actor.role === 'entrant' && concession?.entryId !== actor.entryId;
  if (concession === undefined || hidden) throw notFound('concession');
  const entry = await findClearance(db, concession.entryId);
  if (entry === undefined) throw notFound('concession');
  return viewConcession(concession, entry, await getEntryRules(db, entry), deps.clock.now());
}

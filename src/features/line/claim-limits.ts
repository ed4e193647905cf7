import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { languagesOf } from '../../domain/rules/says/rule-words.ts';
import { placeOfRule } from '../../domain/rules/says/says.ts';
import { languageOf } from '../../http/frame/language.ts';
import { notFound } from '../../http/frame/problem.ts';
import { SaysView, viewSays } from '../../http/views/small-views.ts';
import { judgeAtLine } from './judge-at-line.ts';
import { findClaim } from './store.ts';

export const ClaimLimitsView = z
  .object({
    limits: z
      .array(
        z.object({
          ruleId: z.string().describe('The rule'),
          position: z.string().optional().describe('Where on the car, for rules that run per position'),
          items: z.array(z.string()).describe('Catalogue keys of what it is about'),
          says: SaysView.describe('The limit as one sentence'),
        }),
      )
      .describe('In the order of the rules'),
  })
  .meta({ id: 'ClaimLimits' });
export type ClaimLimitsView = z.infer<typeof ClaimLimitsView>;

export const CLAIM_LIMITS_EXAMPLE: ClaimLimitsView = {
  limits: [
    {
      ruleId: 'pad-thickness',
      position: 'FL.in',
      items: ['pad.thickness'],
      says: { text: '4 mm or more, metal plate not counted.' },
    },
  ],
};

/**
 * What the rules ask of the claimed car, one sentence for each limit that can keep it off the track: what the inspector
 * holds what he sees against. Advice is left out, and what cannot be said before something else is known.
 *
 * @throws ProblemError `not-found` when there is no such claim, or it is another inspector's
 */
export async function getClaimLimits(
  deps: Deps,
  actor: Actor,
  claimId: string,
  accepts: { 'accept-language'?: string | undefined },
): Promise<{ view: ClaimLimitsView; language: string }> {
  const db = deps.db.prisma;
  const claim = await findClaim(db, claimId);
  if (claim === undefined || claim.inspectorId !== actor.tokenId) throw notFound('claim of yours');
  const now = deps.clock.now();
  const line = await judgeAtLine(db, claim, now);
  const language = languageOf(accepts, languagesOf(line.ruleSet));
  const judgement = line.asDeclared(now);
  const says = line.says(judgement, now, language);
  const limits = judgement.findings.flatMap(({ ruleId, position, effect, items }) => {
    const said = effect === 'advise' ? undefined : says.get(placeOfRule(ruleId, position));
    if (said === undefined || said.isOpen) return [];
    const at = position === undefined ? {} : { position };
    return [{ ruleId, ...at, items: [...items], says: viewSays(said) }];
  });
  return { view: { limits }, language };
}

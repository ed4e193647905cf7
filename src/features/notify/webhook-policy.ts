import type { Config } from '../../config.ts';
import { ProblemError } from '../../http/frame/problem.ts';
import {
  destinationFault,
  type OutgoingPolicy,
  parseAllowList,
  PUBLIC_ONLY,
} from '../../platform/outgoing/outgoing-request-policy.ts';

/** Where webhooks may go: the public internet, and what the configuration names. */
export function outgoingPolicy({ webhookAllow }: Pick<Config, 'webhookAllow'>): OutgoingPolicy {
  return parseAllowList(webhookAllow.join(',')) ?? PUBLIC_ONLY;
}

/** @throws ProblemError `not-acceptable` when the text of the address shows already that nothing may be sent there */
export function assertMayGoTo(config: Pick<Config, 'webhookAllow'>, url: string): void {
  const fault = destinationFault(url, outgoingPolicy(config));
  if (fault === undefined) return;
  const error = { pointer: '/url', code: 'address-not-allowed', detail: `The address ${fault}.`, in: 'body' };
  throw new ProblemError('not-acceptable', `/url: ${error.detail}`, { errors: [error] });
}

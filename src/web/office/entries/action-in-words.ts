import { text } from '../text.ts';

const ACTIONS = [
  'claim.expired',
  'claim.renewed',
  'clearance.expired',
  'concession.approved',
  'concession.granted',
  'concession.revoked',
  'condition.done',
  'condition.fell-due',
  'declaration.voided',
  'entry.created',
  'entry.erased',
  'entry.recalled',
  'entry.signed-off',
  'entry.updated',
  'entry.sent-back',
  'entry.withdrawn',
  'hold.lifted',
  'hold.placed',
  'inspection.rejudged',
  'inspection.submitted',
  'photo.added',
  'photo.removed',
  'ticket.claimed',
  'ticket.put-back',
] as const;

/** An action of the history in words; one that this page does not know yet stays as the server names it. */
export function actionInWords(action: string): string {
  const known = ACTIONS.find((one) => one === action);
  return known === undefined ? action : text.t(`action.${known}`);
}

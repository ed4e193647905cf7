import { words } from '../shared/words.ts';
import type { Why } from './state/desk.ts';
import { text } from './text.ts';

const { t } = text;

/** Why something could not be done, for the person. */
export function whyNot(why: Why): string {
  if (why.kind === 'offline') return t('why.offline');
  const { problem, status } = why.error;
  if (status === 401) return words.t('session.refused');
  return problem.code === 'conflict-of-interest' ? t('why.own-car') : problem.detail;
}

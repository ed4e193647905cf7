import { signal } from '@preact/signals';
import type { Settled, Unsent } from '../../shared/outbox.ts';

interface News {
  sent: number;
  refused?: string;
}

/** Photos of this session that the server has, and what it said of one that it refused, by claim and place. */
export const photoNews = signal<Readonly<Record<string, News>>>({});

export const newsKey = (claimId: string, cell: string): string => `${claimId} ${cell}`;

/** A photo was answered. */
export function photoSettled({ about }: Unsent, answer: Settled): 'done' {
  const before = photoNews.value[about] ?? { sent: 0 };
  const news = answer.ok ? { sent: before.sent + 1 } : { ...before, refused: answer.problem.message };
  photoNews.value = { ...photoNews.value, [about]: news };
  return 'done';
}

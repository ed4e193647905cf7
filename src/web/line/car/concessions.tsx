import { dayAndTime } from '../format.ts';
import type { Draft } from '../state/draft.ts';
import { text } from '../text.ts';

const { t } = text;

/** Exceptions in force for this car; what they ask for becomes a condition by itself. */
export function Concessions({ draft, timeZone }: { draft: Draft; timeZone: string }) {
  const { concessions, manyConcessions } = draft.claim;
  if (concessions.length === 0) return null;
  return (
    <section class="notice look stack" aria-labelledby="concessions-heading">
      <h3 id="concessions-heading">{t('concessions.heading', { count: concessions.length })}</h3>
      {manyConcessions && <p>{t('concessions.many')}</p>}
      <ul>
        {concessions.map(({ concessionId, title, reason, condition, expiresAt }) => (
          <li key={concessionId}>
            <strong>{title}</strong>: {reason}. {t('concessions.until', { time: dayAndTime(expiresAt, timeZone) })}
            {condition !== undefined && ` ${t('concessions.condition', { condition })}`}
          </li>
        ))}
      </ul>
    </section>
  );
}

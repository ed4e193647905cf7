import type { Stops } from '../stops.ts';
import { defineText } from '../text.ts';

/** Texts of holds, loaded by the pages that show them: the gate has its own, and is small. */
export const holdsText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = holdsText;

/** What was stopped on this device and nobody else knows of: until it is told, and where it was refused until it was read. */
export function UnsentStops({ stops, advice }: { stops: Stops; advice: string }) {
  const waiting = stops.waiting.value.filter(({ refused }) => refused === undefined);
  const refused = stops.waiting.value.filter((stop) => stop.refused !== undefined);
  return (
    <div role="status" class="no-print">
      {waiting.length > 0 && (
        <section class="notice look stack untold" aria-label={t('untold')}>
          <h2>{t('untold')}</h2>
          {waiting.map(({ key, what, carNumber, reason }) => (
            <p key={key}>{t(what, { number: carNumber, reason: reason === '' ? '–' : reason })}</p>
          ))}
          <p>{advice}</p>
        </section>
      )}
      {refused.map(({ key, carNumber, refused: why = '' }) => (
        <div key={key} class="notice bad stack">
          <p>{t('refused', { number: carNumber, why })}</p>
          <p>{advice}</p>
          <div class="row">
            <button type="button" class="glove" onClick={() => void stops.forget(key)}>
              {t('read')}
            </button>
          </div>
        </div>
      ))}
    </div>
  );
}

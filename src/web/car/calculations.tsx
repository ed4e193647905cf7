import { useEffect, useState } from 'preact/hooks';
import { call } from '../api/call.ts';
import { type KeptCalculation, listKeptCalculations } from '../api/operations.ts';
import { currentLanguage } from '../shared/text.ts';
import { locale } from '../shared/times.ts';
import { formOf, loadForms, say } from '../workshop/forms.ts';
import { WorkItOut } from '../workshop/link.tsx';
import type { Car } from './car.ts';
import { text } from './text.ts';

const { t } = text;

/** The computations that were kept with this car, and the way to all others. Without a network only the way is there. */
export function Calculations({ car }: { car: Car }) {
  const [kept, setKept] = useState<readonly KeptCalculation[]>([]);
  const from = car.session.entryId === undefined ? 'car' : 'garage';
  useEffect(() => {
    const params = { vehicleId: car.vehicleId };
    void Promise.all([
      loadForms(currentLanguage()),
      call(listKeptCalculations, { params }, { token: car.session.token }),
    ]).then(
      ([, { body }]) => setKept(body.kept),
      () => undefined,
    );
  }, [car]);
  return (
    <details class="panel car-section">
      <summary>
        <h2>{t('sums.title')}</h2>
        {kept.length > 0 && <span>{t('sums.count', { count: kept.length })}</span>}
      </summary>
      <div class="stack">
        <p>{t('sums.means')}</p>
        {kept.length > 0 && (
          <ul class="kept-list">
            {kept.map(({ keptId, name, keptAt }) => (
              <li key={keptId}>
                <a href={`/workshop?from=${from}&kept=${keptId}`}>{say(formOf(name)?.title ?? name)}</a>{' '}
                {new Date(keptAt).toLocaleDateString(locale(), { dateStyle: 'medium' })}
              </li>
            ))}
          </ul>
        )}
        <p>
          <WorkItOut from={from} />
        </p>
      </div>
    </details>
  );
}

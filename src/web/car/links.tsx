import { useState } from 'preact/hooks';
import { call } from '../api/call.ts';
import { endCarLinks, makeCarLink } from '../api/operations.ts';
import { keepSession } from '../shared/session.ts';
import type { Car } from './car.ts';
import { text } from './text.ts';

const { t } = text;

/** The link of the car: for oneself, across events, and for the next owner. */
export function Links({ car }: { car: Car }) {
  const { token, holder, role } = car.session;
  const [made, setMade] = useState<{ url: string; sold: boolean } | undefined>(undefined);
  const [failed, setFailed] = useState(false);
  const make = async (heir?: string): Promise<void> => {
    setFailed(false);
    try {
      const sold = heir !== undefined;
      const body = sold ? { holder: heir, sold: true as const } : { holder };
      const { body: link } = await call(makeCarLink, { params: { vehicleId: car.vehicleId }, body }, { token });
      // one's own link from before has ended with this one
      if (role === 'owner' && !sold) {
        car.session.token = link.token;
        keepSession('car', car.session);
      }
      setMade({ url: `${location.origin}/car#${link.token}`, sold });
    } catch {
      setFailed(true);
    }
  };
  const end = async (): Promise<void> => {
    await call(endCarLinks, { params: { vehicleId: car.vehicleId } }, { token }).catch(() => undefined);
    location.reload();
  };
  return (
    <details class="panel car-section">
      <summary>
        <h2>{t('links.title')}</h2>
      </summary>
      <div class="stack">
        <p>{t('links.means')}</p>
        <p>
          <button type="button" onClick={() => void make()}>
            {t('links.make')}
          </button>
        </p>
        {role === 'owner' && <Sold make={(heir) => void make(heir)} end={() => void end()} />}
        <div role="status">
          {failed && <p class="notice bad">{t('links.failed')}</p>}
          {made !== undefined && (
            <p class="notice good made-link">
              {made.sold ? t('links.for-heir') : t('links.made')} <a href={made.url}>{made.url}</a>
            </p>
          )}
        </div>
      </div>
    </details>
  );
}

/** Handing the car on, and taking every link back. */
function Sold({ make, end }: { make(heir: string): void; end(): void }) {
  const [heir, setHeir] = useState('');
  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        if (heir.trim() !== '') make(heir.trim());
      }}
    >
      <label>
        {t('links.heir')}
        <input type="text" maxLength={80} value={heir} onInput={(event) => setHeir(event.currentTarget.value)} />
      </label>
      <button type="submit">{t('links.sold')}</button>
      <button type="button" onClick={end}>
        {t('links.end')}
      </button>
    </form>
  );
}

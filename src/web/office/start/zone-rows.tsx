import { Input } from '../parts/form.tsx';
import { startText } from './text.ts';

const { t } = startText;

/** A braking zone as it is typed, speeds in km/h. */
export interface ZoneRow {
  name: string;
  from: string;
  to: string;
}

interface ZoneRowsProps {
  zones: readonly ZoneRow[];
  onZones(zones: readonly ZoneRow[]): void;
}

/** The braking zones in the order of a lap; between two of them lies a straight. */
export function ZoneRows({ zones, onZones }: ZoneRowsProps) {
  const change = (place: number, part: Partial<ZoneRow>): void =>
    onZones(zones.map((zone, at) => (at === place ? { ...zone, ...part } : zone)));
  return (
    <fieldset class="stack">
      <legend>{t('zones.title')}</legend>
      <p class="soft">{t('zones.how')}</p>
      {zones.map((zone, place) => (
        // A row has no name of its own: it is its place in the lap.
        <div key={place} class="zone" role="group" aria-label={t('zones.nth', { number: place + 1 })}>
          <Input
            label={t('zones.name', { number: place + 1 })}
            pointer={`/brakingZones/${place}/name`}
            value={zone.name}
            onValue={(name) => change(place, { name })}
          />
          <Input
            label={t('zones.from')}
            pointer={`/brakingZones/${place}/fromKmh`}
            inputMode="decimal"
            value={zone.from}
            onValue={(from) => change(place, { from })}
          />
          <Input
            label={t('zones.to')}
            pointer={`/brakingZones/${place}/toKmh`}
            inputMode="decimal"
            value={zone.to}
            onValue={(to) => change(place, { to })}
          />
          <button
            type="button"
            aria-label={t('zones.remove', { number: place + 1 })}
            onClick={() => onZones(zones.filter((_, at) => at !== place))}
          >
            <span aria-hidden="true">✕</span>
          </button>
        </div>
      ))}
      <div class="row">
        <button type="button" onClick={() => onZones([...zones, { name: '', from: '', to: '' }])}>
          {t('zones.add')}
        </button>
      </div>
    </fieldset>
  );
}

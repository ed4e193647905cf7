import { useEffect, useRef } from 'preact/hooks';
import { hazardsOf, type Rescue, rescueKind } from '../../domain/car/rescue.ts';
import { clockTime } from '../shared/times.ts';
import type { GateList } from './kept/gate-list.ts';
import { text } from './text.ts';

const { t } = text;

/** What rescuers must know of a car that is not as a petrol car; nothing for others. */
export function RescueLine({ rescue }: { rescue: Rescue | undefined }) {
  if (rescue === undefined || rescueKind(rescue) !== 'special') return null;
  const { volts, disconnectAt } = rescue;
  const parts = [...hazardsOf(rescue).map((one) => t(`rescue.${one}`)), ...(volts === undefined ? [] : [`${volts} V`])];
  return (
    <p class="rescue">
      <strong>{parts.join(', ')}</strong>{' '}
      {disconnectAt === undefined ? t('rescue.no-place') : t('rescue.place', { place: disconnectAt })}
    </p>
  );
}

interface RescueListProps {
  list: GateList | undefined;
  timeZone: string;
  now: Date;
  back(): void;
}

/** Every car of the list that rescuers must treat otherwise, and those of which nobody said. Old lists are shown with their time. */
export function RescueList({ list, timeZone, now, back }: RescueListProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus({ preventScroll: true }), []);
  const known = list?.snapshot.entries.some(({ rescue }) => rescue !== undefined) === true ? list : undefined;
  return (
    <section class="rescue-list stack">
      <h2 ref={heading} tabIndex={-1}>
        {t('rescue.title')}
      </h2>
      <p class="notice look">{t('rescue.caution')}</p>
      {known === undefined ? <p class="untold">{t('rescue.no-list')}</p> : <Cars list={known} />}
      {known !== undefined && <p>{t('rescue.of', { time: clockTime(new Date(known.confirmedAt), timeZone, now) })}</p>}
      <button type="button" class="next" onClick={back}>
        {t('rescue.back')}
      </button>
    </section>
  );
}

function Cars({ list: { snapshot } }: { list: GateList }) {
  // A shared car stands once, with what is said of it in any run group.
  const cars = new Map(snapshot.entries.map((entry) => [`${entry.carNumber} ${entry.vehicle}`, entry]));
  const of = (kind: ReturnType<typeof rescueKind>) =>
    [...cars.values()].filter(({ rescue }) => rescueKind(rescue ?? {}) === kind);
  const special = of('special');
  const untold = of('not-stated').map(({ carNumber }) => carNumber);
  return (
    <>
      {special.length === 0 && <p>{t('rescue.none')}</p>}
      <ul class="rescue-cars">
        {special.map(({ carNumber, group, vehicle, colour, rescue }) => (
          <li key={`${carNumber} ${group}`}>
            <span class="number">{carNumber}</span>{' '}
            <span>
              {[colour, vehicle].filter((part) => part !== undefined).join(', ')}
              <RescueLine rescue={rescue} />
            </span>
          </li>
        ))}
      </ul>
      {untold.length > 0 && <p class="untold">{t('rescue.not-stated', { numbers: untold.join(', ') })}</p>}
    </>
  );
}

import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import '../../shared/car-plan.css';
import { useGarage } from '../context.ts';
import { cellOf, type FormItem, lowestPlaces, type Place, placesAt, placesOf, typeOf } from '../kept/asked.ts';
import { EACH } from '../kept/cells.ts';
import { setCells } from '../kept/declaration.ts';
import { text } from '../text.ts';
import { cornerName, partName, positionName } from '../verdict/say.ts';
import { PlaceField } from './place-field.tsx';

const { t } = text;

/** The four wheels where they sit, seen from above. */
const CORNERS = ['FL', 'FR', 'RL', 'RR'] as const;
type Corner = (typeof CORNERS)[number];

/** The corner that a position belongs to: `FL.in` is at `FL`; undefined for what sits at no wheel. */
function cornerOf(position: string): Corner | undefined {
  return CORNERS.find((corner) => position === corner || position.startsWith(`${corner}.`));
}

/** Whether all of these positions sit at wheels, so that a plan of the car can hold them. */
const isAtWheels = (positions: readonly string[]): boolean =>
  positions.length > 0 && positions.every((position) => cornerOf(position) !== undefined);

interface CarPlanProps {
  /** what stands at the front end of the drawing, for who looks at it */
  front: string;
  /** what is at a corner; nothing where the car has none of it there */
  corner(corner: Corner): ComponentChildren;
}

/** A plan view of the car, nose up, with what belongs to each wheel beside it. The order in the page is FL FR RL RR. */
export function CarPlan({ front, corner }: CarPlanProps) {
  return (
    <div class="car-plan">
      {CORNERS.map((one) => (
        <div key={one} class={`car-plan-corner car-plan-${one.toLowerCase()}`}>
          {corner(one)}
        </div>
      ))}
      <div class="car-plan-body" aria-hidden="true">
        <span>{front}</span>
        <Outline />
      </div>
    </div>
  );
}

/** Body, glass and wheels, nose up. */
function Outline() {
  return (
    <svg viewBox="0 0 60 140" focusable="false">
      <path class="car-plan-wheel" d="M2 22h8v24H2zM50 22h8v24h-8zM2 94h8v24H2zM50 94h8v24h-8z" />
      <path class="car-plan-shell" d="M12 30Q12 4 30 4T48 30V118Q48 136 30 136T12 118Z" />
      <path class="car-plan-glass" d="M17 52Q30 44 43 52L40 64H20ZM20 104H40L42 114Q30 120 18 114Z" />
      <path class="car-plan-arrow" d="M30 14l6 9H24z" />
    </svg>
  );
}

/** All fields of an item: at the wheels on a plan of the car, at other places as a list, else alone. */
export function ItemPlaces({ item }: { item: FormItem }) {
  const { declaration } = useGarage();
  const [isEach, setEach] = useState(false);
  const { positions } = item;
  const asked = declaration.form.value?.asked.cells ?? [];
  const lowest = lowestPlaces(item).filter(
    ({ cell }) => asked.includes(cell) || declaration.cells.value[cell] !== undefined,
  );
  const hasOwn = placesOf(item).some(({ cell }) => declaration.cells.value[cell] !== undefined);
  if (lowest.length > 0 && !hasOwn && !isEach) {
    return (
      <>
        <Lowest item={item} places={lowest} />
        <div class="row">
          <button type="button" class="quiet" onClick={() => setEach(true)}>
            {t('lowest.each')} <span class="unseen">{item.label}</span>
          </button>
        </div>
      </>
    );
  }
  if (positions === undefined) return <Fields places={placesAt(item, undefined)} of={item.label} />;
  if (isAtWheels(positions)) {
    return (
      <>
        <Wheels item={item} positions={positions} />
        <SameAsFirst item={item} positions={positions} />
      </>
    );
  }
  return (
    <div class="places">
      {positions.map((position) => (
        <div key={position} class="place">
          <h4>{positionName(position)}</h4>
          <Fields places={placesAt(item, position)} of={positionName(position)} />
        </div>
      ))}
    </div>
  );
}

/** One value for what is the lowest of an axle or a tyre. */
function Lowest({ item, places }: { item: FormItem; places: readonly Place[] }) {
  return (
    <div class="lowest">
      {places.map((place) => (
        <PlaceField
          key={place.cell}
          place={place}
          label={t('lowest.at', { at: positionName(place.position ?? '') })}
          name={`${item.label}, ${t('lowest.at', { at: positionName(place.position ?? '') })}`}
        />
      ))}
    </div>
  );
}

/** What is read from the first place and seen to be the same at the others: one tap, kept as one value of each place. */
function SameAsFirst({ item, positions }: { item: FormItem; positions: readonly string[] }) {
  const { declaration, sync } = useGarage();
  const [first = ''] = positions;
  const type = typeOf(item);
  const cells = declaration.cells.value;
  const value = cells[cellOf(item.key, first)];
  const isAlone = positions.slice(1).every((at) => cells[cellOf(item.key, at)] === undefined);
  if (type.kind !== 'text' || type.asPrinted !== 'tyre-date-code' || typeof value !== 'string' || !isAlone) return null;
  const take = (): void => {
    setCells(declaration, { [cellOf(item.key, first)]: undefined, [cellOf(item.key, EACH)]: value });
    sync.typed();
  };
  return (
    <div class="row">
      <button type="button" onClick={take}>
        {t('same.all', { value })}
      </button>
    </div>
  );
}

function Wheels({ item, positions }: { item: FormItem; positions: readonly string[] }) {
  return (
    <CarPlan
      front={t('plan.front')}
      corner={(corner) => {
        const here = positions.filter((position) => cornerOf(position) === corner);
        if (here.length === 0) return null;
        return (
          <div class="corner">
            <h4>{cornerName(corner)}</h4>
            {here.map((position) => (
              <Fields key={position} places={placesAt(item, position)} of={positionName(position)} at={position} />
            ))}
          </div>
        );
      }}
    />
  );
}

/** The fields at one position. `of` says for a screen reader which; `at` is a position with a part, as `FL.in`. */
function Fields({ places, of, at }: { places: readonly Place[]; of: string; at?: string }) {
  const part = at?.split('.')[1];
  return (
    <>
      {places.map((place) => {
        const label = place.part?.label ?? (part === undefined ? undefined : partName(part));
        const name = place.part === undefined ? of : `${of}, ${place.part.label}`;
        return <PlaceField key={place.cell} place={place} label={label} name={name} />;
      })}
    </>
  );
}

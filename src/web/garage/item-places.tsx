import { CarPlan, cornerOf, isAtWheels } from '../shared/car-plan.tsx';
import { type FormItem, type Place, placesAt } from './asked.ts';
import { PlaceField } from './fields/place-field.tsx';
import { cornerName, partName, positionName } from './say.ts';
import { text } from './text.ts';

const { t } = text;

/** All fields of an item: at the wheels on a plan of the car, at other places as a list, else alone. */
export function ItemPlaces({ item }: { item: FormItem }) {
  const { positions } = item;
  if (positions === undefined) return <Fields places={placesAt(item, undefined)} of={item.label} />;
  if (isAtWheels(positions)) return <Wheels item={item} positions={positions} />;
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

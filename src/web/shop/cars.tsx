import type { ShopCar } from '../api/operations.ts';
import { Mark, type MarkKind } from '../garage/item/mark.tsx';
import { dateText, positionName, timeText } from '../garage/verdict/say.ts';
import { text as verdictText } from '../garage/verdict/text.ts';
import { text } from './text.ts';

const { t } = text;

export const MARKS: Readonly<Record<ShopCar['state'], MarkKind>> = {
  'to-mend': 'bad',
  'to-answer': 'open',
  'to-sign': 'look',
  done: 'good',
  withdrawn: 'open',
};

type PartToOrder = ShopCar['parts'][number];

export const partName = (part: PartToOrder['part']): string => verdictText.t(`part.${part}`);

export function placeName(place: string): string {
  return place === 'front' || place === 'rear' ? t(`place.${place}`) : positionName(place);
}

/** A part with its places: "brake pads, front axle". */
export function partText({ part, places }: Pick<PartToOrder, 'part' | 'places'>): string {
  if (places.length === 0) return partName(part);
  return t('order.line', { part: partName(part), places: places.map(placeName).join(', ') });
}

/** Every car with what comes next, and one list of parts for all of them. */
export function Cars({ cars, open }: { cars: readonly ShopCar[]; open(shopLinkId: string): void }) {
  if (cars.length === 0) return <p class="panel">{t('cars.none')}</p>;
  const count = (state: ShopCar['state']): number => cars.filter((car) => car.state === state).length;
  const sum = { mend: count('to-mend'), answer: count('to-answer'), sign: count('to-sign') };
  return (
    <>
      <p class="so-far">
        <strong>{t('cars.sum', { count: cars.length, ...sum })}</strong>
      </p>
      <ToOrder cars={cars} />
      <section class="stack" aria-labelledby="cars">
        <h2 id="cars">{t('cars.title')}</h2>
        <ul class="stack plain shop-cars">
          {cars.map((car) => (
            <li key={car.shopLinkId}>
              <Card car={car} open={open} />
            </li>
          ))}
        </ul>
      </section>
    </>
  );
}

function Card({ car, open }: { car: ShopCar; open(shopLinkId: string): void }) {
  const { carNumber, description, colour, state, asked, given, bars, looks, unsigned, parts, event } = car;
  return (
    <article class="panel stack shop-car">
      <header class="row spread">
        <h3>
          <span class="shop-number">{carNumber}</span>{' '}
          <span>
            {description}
            {colour !== undefined && ` · ${colour}`}
          </span>
        </h3>
        <button type="button" class="primary" onClick={() => open(car.shopLinkId)}>
          {t('car.open')} <span class="unseen">{t('car.is', { number: carNumber })}</span>
        </button>
      </header>
      <p class="soft">
        {t('car.owner', { owner: car.owner, event: event.name, day: dateText(event.startsOn), group: car.runGroup })}
      </p>
      <p class={`state ${MARKS[state]}`}>
        <Mark kind={MARKS[state]} /> <strong>{t(`state.${state}`)}</strong>
      </p>
      <ul class="shop-facts">
        {bars > 0 && <li>{t('car.jobs', { count: bars })}</li>}
        {looks > 0 && <li>{t('car.looks', { count: looks })}</li>}
        <li>{t('car.answered', { given, asked })}</li>
        {unsigned > 0 && <li>{t('car.unsigned', { count: unsigned })}</li>}
        {parts.length > 0 && (
          <li>{t('car.order', { day: dateText(car.orderBy), parts: parts.map(partText).join('; ') })}</li>
        )}
        <li>
          {car.declaredRevision === undefined
            ? t('car.declare', { time: timeText(car.declareBy, event.timeZone) })
            : t('car.sent', { revision: car.declaredRevision })}
        </li>
      </ul>
    </article>
  );
}

/** What all cars need, so that it is ordered in one go: the same part at the same place once, with its cars. */
function ToOrder({ cars }: { cars: readonly ShopCar[] }) {
  const lines = new Map<string, { part: PartToOrder; cars: ShopCar[] }>();
  for (const car of cars) {
    for (const part of car.parts) {
      const name = `${part.isNeeded} ${partText(part)}`;
      const line = lines.get(name) ?? { part, cars: [] };
      line.cars.push(car);
      lines.set(name, line);
    }
  }
  if (lines.size === 0) return null;
  const sorted = [...lines].toSorted(([, a], [, b]) => Number(b.part.isNeeded) - Number(a.part.isNeeded));
  return (
    <section class="panel stack" aria-labelledby="to-order">
      <h2 id="to-order">{t('order.title')}</h2>
      <p class="soft">{t('order.says')}</p>
      <ul class="shop-facts">
        {sorted.map(([name, { part, cars: of }]) => {
          const day = of.map(({ orderBy }) => orderBy).toSorted()[0] ?? '';
          const numbers = of.map(({ carNumber }) => t('car.is', { number: carNumber })).join(', ');
          return (
            <li key={name}>
              <strong>{partText(part)}</strong> ({t(part.isNeeded ? 'order.needed' : 'order.good')}){' '}
              {t('order.for', { day: dateText(day), cars: numbers })}
            </li>
          );
        })}
      </ul>
    </section>
  );
}

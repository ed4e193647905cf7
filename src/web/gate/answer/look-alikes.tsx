import { useEffect, useRef } from 'preact/hooks';
import type { LookAlike, NumberedCar } from '../../../domain/look-alikes.ts';
import { text } from '../text.ts';

const { t } = text;

/** Cars that this number can be taken for: to compare with what stands there, never a verdict. */
export function Also({ cars }: { cars: readonly LookAlike[] }) {
  return (
    <>
      {cars.map((car) => (
        <p key={car.carNumber} class="also">
          {t('also', { car: [car.carNumber, ...described(car)].join(', ') })}
        </p>
      ))}
    </>
  );
}

/**
 * Before an answer: numbers that are the same when spoken. Which of them it is stands on the door, and until somebody
 * read it there is no answer.
 */
export function Twins({ cars, choose }: { cars: readonly NumberedCar[]; choose(carNumber: string): void }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus({ preventScroll: true }), [cars]);
  return (
    <section class="twins">
      <h2 ref={heading} tabIndex={-1}>
        {cars.length === 2 ? t('twins.two') : t('twins.many', { count: cars.length })}
      </h2>
      {cars.map((car) => (
        <button key={car.carNumber} type="button" class="choice twin" onClick={() => choose(car.carNumber)}>
          <span class="number">{car.carNumber}</span> <span>{described(car).join(', ')}</span>
        </button>
      ))}
    </section>
  );
}

const described = ({ vehicle, colour }: NumberedCar): string[] =>
  [vehicle, colour].filter((part) => part !== undefined);

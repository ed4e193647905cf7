import { lookAlikesOf, type NumberedCar } from '../../domain/look-alikes.ts';
import { text } from './text.ts';

const { t } = text;

/** Cars whose numbers can be taken for this one, with what tells them apart. */
export function Also({ number, cars }: { number: string; cars: readonly NumberedCar[] }) {
  return (
    <div role="status">
      {lookAlikesOf(number, cars).map(({ carNumber, vehicle, colour }) => (
        <p key={carNumber} class="notice look">
          {t('also', { car: [carNumber, vehicle, colour].filter((part) => part !== undefined).join(', ') })}
        </p>
      ))}
    </div>
  );
}

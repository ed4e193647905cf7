import { type Signal, useSignal } from '@preact/signals';
import { lookAlikesOf, type NumberedCar } from '../../../domain/look-alikes.ts';
import { text } from '../text.ts';

const { t } = text;

interface ByNumberProps {
  id: string;
  /** what the button says */
  action: string;
  /** why it did not work */
  message: Signal<string | undefined>;
  /** those that the number may be taken for while it is typed */
  cars?: readonly NumberedCar[] | undefined;
  onNumber(carNumber: string): void;
}

/** A field for a car number and what is done with it. */
export function ByNumber({ id, action, message, cars = [], onNumber }: ByNumberProps) {
  const number = useSignal('');
  return (
    <>
      <form
        class="row by-number"
        onSubmit={(event) => {
          event.preventDefault();
          const carNumber = number.value.trim();
          if (carNumber === '') message.value = t('claim.number.missing');
          else onNumber(carNumber);
        }}
      >
        <label for={id}>{t('claim.number')}</label>
        <input
          id={id}
          class="number"
          autocomplete="off"
          autocapitalize="characters"
          maxLength={4}
          value={number.value}
          onInput={(event) => {
            number.value = event.currentTarget.value;
          }}
        />
        <button type="submit" class="glove">
          {action}
        </button>
      </form>
      <Also number={number.value.trim()} cars={cars} />
      <p role="alert" class={message.value === undefined ? '' : 'notice look'}>
        {message.value}
      </p>
    </>
  );
}

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

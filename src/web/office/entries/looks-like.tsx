import { lookAlikesOf } from '../../../domain/look-alikes.ts';
import { call } from '../../api/call.ts';
import { listGate } from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';

const { t } = text;

/** While a number is typed: cars of the event that it can be taken for. @param own the number the car has now */
export function LooksLike({
  office,
  number,
  own,
}: {
  office: OfficeContext;
  number: string;
  own?: string | undefined;
}) {
  const { eventId, token } = office;
  const cars = useLoad(`numbers ${eventId}`, async (signal) => {
    const { body } = await call(listGate, { params: { eventId } }, { token, signal });
    return body?.entries ?? [];
  });
  const alike = lookAlikesOf(number, cars.data ?? []).filter(
    ({ kind, carNumber }) => kind !== 'swapped' && carNumber !== own,
  );
  return (
    <div role="status">
      {number !== own &&
        alike.map(({ carNumber, vehicle, colour }) => (
          <p key={carNumber} class="notice look">
            {t('looksLike', { car: [carNumber, vehicle, colour].filter((part) => part !== undefined).join(', ') })}
          </p>
        ))}
    </div>
  );
}

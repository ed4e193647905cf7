import { type Signal, useSignal } from '@preact/signals';
import type { ClaimTicketInput } from '../../api/operations.ts';
import { ByNumber } from './by-number.tsx';
import { claim, offerIn } from '../state/claims.ts';
import type { Station } from '../state/station.ts';
import { go } from '../state/route.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';
import { WayOut } from './way-out.tsx';

const { t } = text;

interface Props {
  station: Station;
  /** why the last car could not be had */
  message: Signal<string | undefined>;
}

/** The next car, or one by its number. */
export function ClaimBar({ station, message }: Props) {
  const busy = useSignal(false);
  const take = async (body: ClaimTicketInput) => {
    if (busy.value) return;
    busy.value = true;
    await takeCar(station, body, message);
    busy.value = false;
  };
  return (
    <section class="panel stack" aria-label={t('claim.heading')}>
      <button type="button" class="primary glove next" onClick={() => void take({})} aria-disabled={busy.value}>
        {t('claim.next')}
      </button>
      <ByNumber
        id="by-number"
        action={t('claim.take')}
        message={message}
        cars={station.line.value.view?.tickets}
        onNumber={(carNumber) => {
          void take({ carNumber });
        }}
      />
      {station.offer.value !== undefined && (
        <WayOut
          key={station.offer.value.carNumber}
          station={station}
          offer={station.offer.value}
          onTake={(carNumber) => void take({ carNumber })}
        />
      )}
    </section>
  );
}

/** Takes a car and goes to it, or says why not. */
export async function takeCar(
  station: Station,
  body: ClaimTicketInput,
  message: Signal<string | undefined>,
): Promise<void> {
  message.value = undefined;
  station.offer.value = undefined;
  const own = station.worksheets.value.find(
    ({ claim, ended, outcome }) => claim.carNumber === body.carNumber && ended === undefined && outcome === undefined,
  );
  // Asked for by its number, a car that one has already is simply that car.
  if (own !== undefined && body.runGroupId === undefined) {
    go({ view: 'car', claimId: own.claimId });
    return;
  }
  const done = await claim(station, body);
  if (!done.ok) {
    message.value = whyNot(done.why);
    if (done.why.kind === 'problem' && body.carNumber !== undefined) {
      station.offer.value = offerIn(station, done.why.error.problem, body.carNumber);
    }
  } else if (done.value === undefined) message.value = t('claim.nobody');
  else go({ view: 'car', claimId: done.value });
}

import { type Signal, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { lookAlikesOf, type NumberedCar } from '../../../domain/look-alikes.ts';
import type { ClaimTicketInput } from '../../api/operations.ts';
import { claim, offerIn, release, sendBack } from '../state/claims.ts';
import type { Offer, Station } from '../state/station.ts';
import { go } from '../state/route.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';

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

/** Why cars go through the line again most often. Common practice, no source. */
const REASONS = ['back.mended', 'back.days', 'back.again'] as const;

interface WayOutProps<O = Offer> {
  station: Station;
  offer: O;
  onTake(carNumber: string): void;
}

/** What can be done about a car that could not be had. */
function WayOut({ station, offer, onTake }: WayOutProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    heading.current?.scrollIntoView({ block: 'center' });
    heading.current?.focus({ preventScroll: true });
  }, [offer]);
  const number = offer.carNumber;
  return (
    <section class="notice look stack" aria-labelledby="way-out">
      <h2 id="way-out" ref={heading} tabIndex={-1}>
        {offer.way === 'release'
          ? t('release.title', { number, name: offer.holder })
          : t(`${offer.way}.title`, { number })}
      </h2>
      {offer.way === 'back' && <Back station={station} offer={offer} onTake={onTake} />}
      {offer.way === 'release' && <Release station={station} offer={offer} onTake={onTake} />}
      {offer.way === 'declare' && (
        <>
          <p>{t('declare.how')}</p>
          <a class="button glove primary" href={`/garage?entry=${offer.entryId}`}>
            {t('declare.type')}
          </a>
        </>
      )}
    </section>
  );
}

type Of<W extends Offer['way']> = Extract<Offer, { way: W }>;

/** Each usual reason is one tap; another one is typed. */
function Back({ station, offer: { entryId, carNumber: number }, onTake }: WayOutProps<Of<'back'>>) {
  const reason = useSignal('');
  const fault = useSignal<string | undefined>(undefined);
  const place = useSignal<number | undefined>(undefined);
  const busy = useSignal(false);
  const send = async (why: string) => {
    if (busy.value) return;
    busy.value = true;
    const done = await sendBack(station, entryId, why);
    busy.value = false;
    fault.value = done.ok ? undefined : whyNot(done.why);
    if (done.ok) place.value = done.value;
  };
  if (place.value !== undefined) {
    return (
      <>
        <p role="status">{t('back.done', { number, place: place.value })}</p>
        <button type="button" class="glove primary" onClick={() => onTake(number)}>
          {t('claim.take.car', { number })}
        </button>
      </>
    );
  }
  return (
    <>
      <p>{t('back.why')}</p>
      {REASONS.map((one) => (
        <button key={one} type="button" class="glove" aria-disabled={busy.value} onClick={() => void send(t(one))}>
          {t('back.send', { why: t(one) })}
        </button>
      ))}
      <form
        class="stack"
        onSubmit={(event) => {
          event.preventDefault();
          if (reason.value.trim() === '') fault.value = t('back.missing');
          else void send(reason.value.trim());
        }}
      >
        <label for="back-reason">{t('back.other')}</label>
        <input
          id="back-reason"
          maxLength={300}
          value={reason.value}
          aria-invalid={fault.value !== undefined}
          onInput={(event) => {
            reason.value = event.currentTarget.value;
          }}
        />
        <button type="submit" class="glove">
          {t('back.other.send')}
        </button>
      </form>
      <p role="alert" class="fault">
        {fault.value}
      </p>
    </>
  );
}

function Release({ station, offer: { claimId, carNumber: number, holder: name }, onTake }: WayOutProps<Of<'release'>>) {
  const fault = useSignal<string | undefined>(undefined);
  const free = useSignal(false);
  const send = async () => {
    const done = await release(station, claimId);
    fault.value = done.ok ? undefined : whyNot(done.why);
    free.value = done.ok;
  };
  return (
    <>
      <p role="status">{free.value ? t('release.done', { number }) : t('release.meaning', { name })}</p>
      {free.value ? (
        <button type="button" class="glove primary" onClick={() => onTake(number)}>
          {t('claim.take.car', { number })}
        </button>
      ) : (
        <button type="button" class="glove" onClick={() => void send()}>
          {t('release.send', { name })}
        </button>
      )}
      <p role="alert" class="fault">
        {fault.value}
      </p>
    </>
  );
}

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

import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { release, sendBack } from '../state/claims.ts';
import type { Station, Offer } from '../state/station.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';

const { t } = text;
/** Why cars go through the line again most often. Common practice, no source. */
const REASONS = ['back.mended', 'back.days', 'back.again'] as const;

interface Props<O = Offer> {
  station: Station;
  offer: O;
  onTake(carNumber: string): void;
}

/** What can be done about a car that could not be had. */
export function WayOut({ station, offer, onTake }: Props) {
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
function Back({ station, offer: { entryId, carNumber: number }, onTake }: Props<Of<'back'>>) {
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

function Release({ station, offer: { claimId, carNumber: number, holder: name }, onTake }: Props<Of<'release'>>) {
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

import type { Signal } from '@preact/signals';
import type { LineView } from '../../api/operations.ts';
import { clockTime } from '../format.ts';
import { now } from '../state/clock.ts';
import type { Desk } from '../state/desk.ts';
import { text } from '../text.ts';
import { takeCar } from './claim-bar.tsx';

const { t } = text;

interface Props {
  desk: Desk;
  ticket: LineView['tickets'][number];
  message: Signal<string | undefined>;
}

/** One car that waits. */
export function TicketRow({ desk, ticket, message }: Props) {
  const { place, carNumber, runGroup, runGroupId, vehicle, verdict, state, concessions } = ticket;
  return (
    <li class="ticket">
      <span class="place number">
        <span class="unseen">{t('line.place')} </span>
        {place}
      </span>
      <span class="car-number number">{carNumber}</span>
      {state === 'waiting' && (
        <button
          type="button"
          class="glove"
          onClick={() => void takeCar(desk, { carNumber, runGroupId }, message)}
          aria-label={t('claim.take.car', { number: carNumber })}
        >
          {t('claim.take')}
        </button>
      )}
      {mayRelease(desk, ticket) && (
        <button
          type="button"
          class="glove"
          aria-label={t('release.car', { number: carNumber })}
          onClick={() => {
            const { claimId = '', claimedBy: holder = '' } = ticket;
            message.value = undefined;
            desk.offer.value = { way: 'release', claimId, carNumber, holder };
          }}
        >
          {t('release.open')}
        </button>
      )}
      <div class="about">
        <p>
          <strong>{runGroup}</strong> · {vehicle}
        </p>
        <p class={verdict === 'clean' ? '' : 'look-at'}>
          {t(`verdict.${verdict}`)}
          {concessions.length > 0 && ` · ${t('line.concessions', { count: concessions.length })}`}
        </p>
        <p class="soft number">{state === 'claimed' ? claimed(desk, ticket) : expected(desk, ticket)}</p>
      </div>
    </li>
  );
}

/** A chief gives back what another has in hand, for example who went home. */
const mayRelease = ({ session }: Desk, { claimId, claimedBy }: Props['ticket']): boolean =>
  session.role === 'chief' && claimId !== undefined && claimedBy !== session.holder;

function claimed({ event }: Desk, { claimedBy = '', claimExpiresAt }: Props['ticket']): string {
  if (claimExpiresAt === undefined) return t('line.claimed', { name: claimedBy });
  return t('line.claimed.until', { name: claimedBy, time: clockTime(claimExpiresAt, event.timeZone) });
}

function expected({ event }: Desk, { expectedAt }: Props['ticket']): string {
  const minutes = Math.round((Date.parse(expectedAt) - now.value) / 60_000);
  if (minutes < 1) return t('line.expected.now');
  return t('line.expected', { time: clockTime(expectedAt, event.timeZone), count: minutes });
}

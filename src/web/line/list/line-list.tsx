import { type Signal, useSignal } from '@preact/signals';
import type { LineView } from '../../api/operations.ts';
import { clockTime, minutesSeconds, now } from '../format.ts';
import { takeUp } from '../state/claims.ts';
import { type Station, worksheetOf } from '../state/station.ts';
import type { Worksheet } from '../state/worksheet.ts';
import { go } from '../state/route.ts';
import { unsentSignOff } from '../state/sign-off.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';
import { ClaimBar, takeCar } from './claim-bar.tsx';

const { t } = text;

/** The line in the order of turns, with what one does first on top. */
export function LineList({ station }: { station: Station }) {
  const message = useSignal<string | undefined>(undefined);
  const { view } = station.line.value;
  return (
    <>
      <ClaimBar station={station} message={message} />
      <Mine station={station} message={message} />
      <section class="stack" aria-labelledby="line-heading">
        <h2 id="line-heading">{t('line.heading', { count: view?.tickets.length ?? 0 })}</h2>
        <Freshness station={station} />
        {view?.tickets.length === 0 && <p>{t('line.empty')}</p>}
        <ol class="tickets">
          {view?.tickets.map((ticket) => (
            <TicketRow key={ticket.ticketId} station={station} ticket={ticket} message={message} />
          ))}
        </ol>
      </section>
    </>
  );
}

function Freshness({ station }: { station: Station }) {
  const { view, stale } = station.line.value;
  const time = view === undefined ? undefined : clockTime(view.asOf, station.event.timeZone, true);
  if (stale) return <p class="notice look">{time === undefined ? t('line.never') : t('line.stale', { time })}</p>;
  const how = station.live.value ? t('line.live') : t('line.polled');
  return (
    <p class="soft number">
      {t('line.as-of', { time: time ?? '' })} · {how}
    </p>
  );
}

interface Props {
  station: Station;
  ticket: LineView['tickets'][number];
  message: Signal<string | undefined>;
}

/** One car that waits. */
function TicketRow({ station, ticket, message }: Props) {
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
          onClick={() => void takeCar(station, { carNumber, runGroupId }, message)}
          aria-label={t('claim.take.car', { number: carNumber })}
        >
          {t('claim.take')}
        </button>
      )}
      {mayRelease(station, ticket) && (
        <button
          type="button"
          class="glove"
          aria-label={t('release.car', { number: carNumber })}
          onClick={() => {
            const { claimId = '', claimedBy: holder = '' } = ticket;
            message.value = undefined;
            station.offer.value = { way: 'release', claimId, carNumber, holder };
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
        <Told station={station} ticket={ticket} />
        <p class="soft number">{state === 'claimed' ? claimed(station, ticket) : expected(station, ticket)}</p>
      </div>
    </li>
  );
}

/** When the car was told to come, and that it was called and not there. */
function Told({ station, ticket: { told, notHereAt } }: Pick<Props, 'station' | 'ticket'>) {
  const { timeZone } = station.event;
  const at = (instant: string) => clockTime(instant, timeZone);
  return (
    <>
      {told !== undefined && (
        <p class="number">
          {told.lane === undefined
            ? t('line.told', { time: at(told.at) })
            : t('line.told.lane', { time: at(told.at), lane: told.lane })}
        </p>
      )}
      {notHereAt !== undefined && <p class="look-at number">{t('line.not-here', { time: at(notHereAt) })}</p>}
    </>
  );
}

/** A chief gives back what another has in hand, for example who went home. */
const mayRelease = ({ session }: Station, { claimId, claimedBy }: Props['ticket']): boolean =>
  session.role === 'chief' && claimId !== undefined && claimedBy !== session.holder;

function claimed({ event }: Station, { claimedBy = '', claimExpiresAt }: Props['ticket']): string {
  if (claimExpiresAt === undefined) return t('line.claimed', { name: claimedBy });
  return t('line.claimed.until', { name: claimedBy, time: clockTime(claimExpiresAt, event.timeZone) });
}

function expected({ event }: Station, { expectedAt }: Props['ticket']): string {
  const minutes = Math.round((Date.parse(expectedAt) - now.value) / 60_000);
  if (minutes < 1) return t('line.expected.now');
  return t('line.expected', { time: clockTime(expectedAt, event.timeZone), count: minutes });
}

/** The cars in this person's hands: on this device, and by the server. */
function Mine({ station, message }: { station: Station; message: Signal<string | undefined> }) {
  const here = station.worksheets.value;
  const elsewhere = (station.line.value.view?.tickets ?? []).filter(
    ({ claimId, claimedBy }) =>
      claimId !== undefined && claimedBy === station.session.holder && worksheetOf(station, claimId) === undefined,
  );
  if (here.length + elsewhere.length === 0) return null;
  const open = async (claimId: string) => {
    const done = await takeUp(station, claimId);
    if (done.ok) go({ view: 'car', claimId });
    else message.value = whyNot(done.why);
  };
  return (
    <section class="stack" aria-labelledby="mine-heading">
      <h2 id="mine-heading">{t('mine.heading')}</h2>
      <ul class="tickets">
        {here.map((worksheet) => (
          <Row key={worksheet.claimId} number={worksheet.claim.carNumber} state={stateOf(station, worksheet)}>
            {() => go({ view: 'car', claimId: worksheet.claimId })}
          </Row>
        ))}
        {elsewhere.map(({ claimId = '', carNumber }) => (
          <Row key={claimId} number={carNumber} state={t('mine.elsewhere')}>
            {() => void open(claimId)}
          </Row>
        ))}
      </ul>
    </section>
  );
}

function Row({ number, state, children }: { number: string; state: string; children: () => void }) {
  return (
    <li class="ticket own">
      <span class="car-number number">{number}</span>
      <button type="button" class="glove primary" onClick={children} aria-label={t('mine.continue.car', { number })}>
        {t('mine.continue')}
      </button>
      <span class="about number">{state}</span>
    </li>
  );
}

function stateOf(station: Station, worksheet: Worksheet): string {
  if (unsentSignOff(station, worksheet.claimId) !== undefined) return t('unsent.title');
  if (worksheet.outcome !== undefined)
    return t('mine.outcome', { decision: t(`decided.${worksheet.outcome.decision}`) });
  if (worksheet.ended !== undefined) return t('mine.ended');
  if (worksheet.refusal !== undefined) return t('mine.refused');
  return t('mine.lease', { time: minutesSeconds(Date.parse(worksheet.expiresAt) - now.value) });
}

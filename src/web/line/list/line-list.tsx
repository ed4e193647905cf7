import { useSignal } from '@preact/signals';
import { ClaimBar } from './claim-bar.tsx';
import { Mine } from './mine.tsx';
import { TicketRow } from './ticket-row.tsx';
import { clockTime } from '../format.ts';
import type { Desk } from '../state/desk.ts';
import { text } from '../text.ts';

const { t } = text;

/** The line in the order of turns, with what one does first on top. */
export function LineList({ desk }: { desk: Desk }) {
  const message = useSignal<string | undefined>(undefined);
  const { view } = desk.line.value;
  return (
    <>
      <ClaimBar desk={desk} message={message} />
      <Mine desk={desk} message={message} />
      <section class="stack" aria-labelledby="line-heading">
        <h2 id="line-heading">{t('line.heading', { count: view?.tickets.length ?? 0 })}</h2>
        <Freshness desk={desk} />
        {view?.tickets.length === 0 && <p>{t('line.empty')}</p>}
        <ol class="tickets">
          {view?.tickets.map((ticket) => (
            <TicketRow key={ticket.ticketId} desk={desk} ticket={ticket} message={message} />
          ))}
        </ol>
      </section>
    </>
  );
}

function Freshness({ desk }: { desk: Desk }) {
  const { view, stale } = desk.line.value;
  const time = view === undefined ? undefined : clockTime(view.asOf, desk.event.timeZone, true);
  if (stale) return <p class="notice look">{time === undefined ? t('line.never') : t('line.stale', { time })}</p>;
  const how = desk.live.value ? t('line.live') : t('line.polled');
  return (
    <p class="soft number">
      {t('line.as-of', { time: time ?? '' })} · {how}
    </p>
  );
}

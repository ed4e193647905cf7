import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { EventView } from '../api/operations.ts';
import { leave } from '../shared/access.tsx';
import type { Session } from '../shared/session.ts';
import { UnsentStops } from '../shared/holds/unsent-stops.tsx';
import { words } from '../shared/words.ts';
import { CarPage } from './car/car-page.tsx';
import { OpenConditions } from './list/open-conditions.tsx';
import { HoldPage } from './decide/hold-page.tsx';
import { LineList } from './list/line-list.tsx';
import { type Station, openStation } from './state/station.ts';
import { followLine } from './state/feed.ts';
import { chooseEvent, go, type Route, route } from './state/route.ts';
import { keepSending } from './state/sign-off.ts';
import { text } from './text.ts';
import { UnsentBanner } from './modal.tsx';

const { t } = text;
const VIEWS = ['line', 'hold', 'conditions'] as const;

/** One inspector's work at one event. */
export function StationView({ session, event, several }: { session: Session; event: EventView; several: boolean }) {
  const station = useSignal<Station | undefined>(undefined);
  const noStorage = useSignal(false);
  useEffect(() => {
    const stopping = new AbortController();
    const begin = (opened: Station) => {
      if (stopping.signal.aborted) return;
      station.value = opened;
      followLine(opened, stopping.signal);
      keepSending(opened, stopping.signal);
      opened.stops.keepSending(stopping.signal);
    };
    openStation(session, event).then(begin, () => {
      noStorage.value = true;
    });
    return () => stopping.abort();
  }, [session, event]);
  if (noStorage.value) return <p class="notice bad">{t('storage.none')}</p>;
  if (station.value === undefined) return <p role="status">{words.t('loading')}</p>;
  return (
    <>
      {station.value.locked.value && <Locked />}
      <UnsentStops stops={station.value.stops} advice={t('hold.by-radio')} />
      <UnsentBanner station={station.value} />
      {route.value.view !== 'car' && <Views event={event} several={several} />}
      <Current station={station.value} to={route.value} />
    </>
  );
}

function Current({ station, to }: { station: Station; to: Route }) {
  switch (to.view) {
    case 'line':
      return <LineList station={station} />;
    case 'car':
      return <CarPage key={to.claimId} station={station} claimId={to.claimId} />;
    case 'hold':
      return <HoldPage station={station} />;
    case 'conditions':
      return <OpenConditions station={station} />;
  }
}

function Views({ event, several }: { event: EventView; several: boolean }) {
  return (
    <div class="stack">
      <p class="row spread">
        <strong>{event.name}</strong>
        {several && (
          <button type="button" class="glove" onClick={() => chooseEvent('choose')}>
            {t('event.other')}
          </button>
        )}
      </p>
      <nav class="views" aria-label={t('views')}>
        {VIEWS.map((view) => (
          <button
            key={view}
            type="button"
            class="glove"
            aria-current={route.value.view === view ? 'page' : undefined}
            onClick={() => go({ view })}
          >
            {t(`view.${view}`)}
          </button>
        ))}
      </nav>
    </div>
  );
}

function Locked() {
  return (
    <div class="notice bad stack" role="alert">
      <p>{words.t('session.refused')}</p>
      <p>{t('locked.kept')}</p>
      <button type="button" class="glove" onClick={() => leave('line')}>
        {words.t('session.leave')}
      </button>
    </div>
  );
}

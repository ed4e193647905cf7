import { useEffect, useState } from 'preact/hooks';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { timeOfDay } from '../parts/time.ts';
import { type Load, useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { Contradictions } from './contradictions.tsx';
import { Findings, Watched } from './findings.tsx';
import { Forecast } from './forecast.tsx';
import { Conditions, Holds, ManyConcessions } from './holds.tsx';
import { type Liveness, useChanges } from './live.ts';
import { type OverviewData, readOverview } from './read-overview.ts';
import { StatusTable } from './status-table.tsx';
import { Undeclared } from './undeclared.tsx';

const { t } = text;

/** How the event stands, kept up to date by itself. */
export function Overview({ desk }: { desk: Desk }) {
  const load = useLoad(`overview ${desk.eventId}`, (signal) => readOverview(desk, signal));
  const liveness = useChanges(desk, load.reload);
  return (
    <Loaded of={load}>
      {(data) => (
        <>
          <div class="row spread">
            <Age load={load} desk={desk} liveness={liveness} />
            <NewestHold data={data} />
          </div>
          <StatusTable readiness={data.readiness} />
          <div class="columns">
            <Holds holds={data.readiness.holds} newest={data.newestHold} desk={desk} />
            <Contradictions list={data.contradictions} desk={desk} />
            <Undeclared undeclared={data.readiness.undeclared} desk={desk} />
            <Conditions conditions={data.readiness.conditions} desk={desk} />
            <ManyConcessions concessions={data.readiness.concessions} />
          </div>
          <Findings findings={data.readiness.findings} />
          <Watched watched={data.readiness.watched} />
          <Forecast line={data.readiness.line} desk={desk} />
        </>
      )}
    </Loaded>
  );
}

function Age({ load, desk, liveness }: { load: Load<OverviewData>; desk: Desk; liveness: Liveness }) {
  const [now, setNow] = useState(performance.now());
  useEffect(() => {
    const timer = setInterval(() => setNow(performance.now()), 1000);
    return () => clearInterval(timer);
  }, []);
  const { data, at = now } = load;
  if (data === undefined) return null;
  const seconds = Math.max(0, Math.round((now - at) / 1000));
  return (
    <p class="age">
      {t('overview.asOf', { time: timeOfDay(data.readiness.asOf, desk.timeZone) })}{' '}
      {seconds < 120 ? t('age.seconds', { count: seconds }) : t('age.minutes', { count: Math.floor(seconds / 60) })}
      {' · '}
      {t(`liveness.${liveness}`)}
    </p>
  );
}

/** The number that is compared by radio with the number on the gate's screen. */
function NewestHold({ data: { newestHold } }: { data: OverviewData }) {
  return (
    <p class="newest">
      <span>{t('overview.newestHold')}</span>{' '}
      <strong class="number">{newestHold === null ? t('overview.noHold') : `#${newestHold.number}`}</strong>{' '}
      {newestHold !== null && <span>{t('car', { number: newestHold.carNumber })}</span>}
    </p>
  );
}

import { useEffect, useRef, useState } from 'preact/hooks';
import type { GateSnapshot } from '../../../domain/clearance/gate-snapshot.ts';
import {
  type ContradictionList,
  getEventReadiness,
  getGateSnapshot,
  getTrack,
  listGateContradictions,
  type ReadinessView,
  type TrackView,
} from '../../api/operations.ts';
import { call } from '../../api/call.ts';
import { followLive } from '../../shared/live.ts';
import { dayAndTime, type OfficeContext } from '../parts/office-context.ts';
import { Link } from '../parts/link.tsx';
import { Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';

/** `live`: told of every change; `asking`: looks by itself every few seconds. */
export type Liveness = 'live' | 'asking';

/** Without the stream. */
const ASK_MS = 10_000;
/** With it: what the clock changes is told by nobody. */
const LIVE_ASK_MS = 60_000;
/** Changes that come together are read together. */
const GATHER_MS = 300;

/** Calls back when something changed at the event, and now and then without being told. */
export function useChanges({ eventId, token }: OfficeContext, onChange: () => void): Liveness {
  const [liveness, setLiveness] = useState<Liveness>('asking');
  const latest = useRef(onChange);
  latest.current = onChange;
  useEffect(() => {
    const stop = new AbortController();
    let gathering: ReturnType<typeof setTimeout> | undefined;
    const soon = (): void => {
      gathering ??= setTimeout(() => {
        gathering = undefined;
        latest.current();
      }, GATHER_MS);
    };
    followLive({
      eventId,
      token,
      signal: stop.signal,
      changed: soon,
      missed: soon,
      connected: (open) => {
        if (!stop.signal.aborted) setLiveness(open ? 'live' : 'asking');
      },
    });
    return () => {
      stop.abort();
      clearTimeout(gathering);
    };
  }, [eventId, token]);
  useEffect(() => {
    const timer = setInterval(() => latest.current(), liveness === 'live' ? LIVE_ASK_MS : ASK_MS);
    return () => clearInterval(timer);
  }, [liveness]);
  return liveness;
}

export interface OverviewData {
  readiness: ReadinessView;
  contradictions: ContradictionList['contradictions'];
  newestHold: GateSnapshot['newestHold'];
  /** of each run group, in their order */
  tracks: readonly TrackView[];
}

/** All that the overview shows, read at once. */
export async function readOverview({ eventId, token }: OfficeContext, signal: AbortSignal): Promise<OverviewData> {
  const params = { eventId };
  const options = { token, signal };
  const [readiness, contradictions, list] = await Promise.all([
    call(getEventReadiness, { params }, options),
    call(listGateContradictions, { params, query: { limit: 50 } }, options),
    call(getGateSnapshot, { params }, options),
  ]);
  const groups = readiness.body.entries.groups.map(({ runGroupId }) => ({ eventId, runGroupId }));
  const tracks = await Promise.all(groups.map((ids) => call(getTrack, { params: ids }, options)));
  return {
    readiness: readiness.body,
    tracks: tracks.map(({ body }) => body),
    contradictions: contradictions.body.contradictions,
    newestHold: list.status === 200 ? payloadOf(await textOf(list.body)).newestHold : null,
  };
}

const textOf = async (body: string | Blob): Promise<string> => (typeof body === 'string' ? body : body.text());

/** What a signed list says. Not verified: it came from the server itself, and nothing is admitted by it here. */
function payloadOf(signed: string): GateSnapshot {
  const payload = (signed.split('.')[1] ?? '').replaceAll('-', '+').replaceAll('_', '/');
  const bytes = Uint8Array.from(atob(payload), (letter) => letter.codePointAt(0) ?? 0);
  return JSON.parse(new TextDecoder().decode(bytes)) as GateSnapshot;
}

const { t } = text;

interface HoldsProps {
  holds: ReadinessView['holds'];
  newest: OverviewData['newestHold'];
  office: OfficeContext;
}

/** Cars that are held, and the hold that was placed last. */
export function Holds({ holds, newest, office }: HoldsProps) {
  return (
    <Panel title={t('holds.title', { count: holds.length })}>
      {newest !== null && (
        <p class="soft">
          {t('holds.newest', {
            number: newest.number,
            car: newest.carNumber,
            time: dayAndTime(newest.at, office.timeZone),
          })}
        </p>
      )}
      {holds.length === 0 && <p>{t('holds.none')}</p>}
      <ul class="plain cars">
        {holds.map(({ holdId, entryId, carNumber, runGroup, reason }) => (
          <li key={holdId}>
            <CarLink entryId={entryId} carNumber={carNumber} runGroup={runGroup} />
            <span>{reason}</span>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

export function Conditions({ conditions, office }: { conditions: ReadinessView['conditions']; office: OfficeContext }) {
  return (
    <Panel title={t('conditions.title', { count: conditions.length })}>
      {conditions.length === 0 && <p>{t('conditions.none')}</p>}
      <ul class="plain cars">
        {conditions.map(({ conditionId, entryId, carNumber, runGroup, text: what, dueAt, pastDue }) => (
          <li key={conditionId}>
            <CarLink entryId={entryId} carNumber={carNumber} runGroup={runGroup} />
            <span>
              {what}
              {dueAt !== undefined && (
                <span class="soft"> {t('conditions.due', { time: dayAndTime(dueAt, office.timeZone) })}</span>
              )}
              {pastDue && <strong> {t('conditions.pastDue')}</strong>}
            </span>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

export function ManyConcessions({ concessions }: { concessions: ReadinessView['concessions'] }) {
  const { inForce, awaitingApproval, manyConcessions } = concessions;
  return (
    <Panel title={t('concessions.title')}>
      <p>{t('concessions.inForce', { count: inForce })}</p>
      {awaitingApproval > 0 && <p class="notice look">{t('concessions.awaiting', { count: awaitingApproval })}</p>}
      <ul class="plain cars">
        {manyConcessions.map(({ entryId, carNumber, runGroup, inForce: count }) => (
          <li key={entryId}>
            <CarLink entryId={entryId} carNumber={carNumber} runGroup={runGroup} />
            <span>{t('concessions.many', { count })}</span>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

export function CarLink({ entryId, carNumber, runGroup }: { entryId: string; carNumber: string; runGroup: string }) {
  return (
    <Link to={{ section: 'entries', entry: entryId }} class="car">
      <strong class="number">{carNumber}</strong> {runGroup}
    </Link>
  );
}

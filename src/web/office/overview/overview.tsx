import { useEffect, useState } from 'preact/hooks';
import type { ReadinessView } from '../../api/operations.ts';
import { dayAndTime, type Load, type OfficeContext, timeOfDay, useLoad } from '../parts/office-context.ts';
import { Link } from '../parts/link.tsx';
import { Loaded, Panel, Table } from '../parts/panel.tsx';
import { type Status, STATUSES, StatusMark, toneOf } from '../parts/status.tsx';
import { text } from '../text.ts';
import { Forecast, WhatNow } from './what-now.tsx';
import {
  CarLink,
  Conditions,
  Holds,
  type Liveness,
  ManyConcessions,
  type OverviewData,
  readOverview,
  useChanges,
} from './holds.tsx';
import { Track } from './track.tsx';

const { t } = text;

/** How the event stands, kept up to date by itself. */
export function Overview({ office }: { office: OfficeContext }) {
  const load = useLoad(`overview ${office.eventId}`, (signal) => readOverview(office, signal));
  const liveness = useChanges(office, load.reload);
  return (
    <Loaded of={load}>
      {(data) => (
        <>
          <div class="row spread">
            <Age load={load} office={office} liveness={liveness} />
            <NewestHold data={data} />
          </div>
          <Track tracks={data.tracks} office={office} onSwitched={load.reload} />
          <StatusTable readiness={data.readiness} />
          <WhatNow readiness={data.readiness} office={office} />
          <div class="columns">
            <Holds holds={data.readiness.holds} newest={data.newestHold} office={office} />
            <Contradictions list={data.contradictions} office={office} />
            <Undeclared undeclared={data.readiness.undeclared} office={office} />
            <Conditions conditions={data.readiness.conditions} office={office} />
            <ManyConcessions concessions={data.readiness.concessions} />
          </div>
          <Findings findings={data.readiness.findings} />
          <Watched watched={data.readiness.watched} />
          <Forecast line={data.readiness.line} office={office} />
        </>
      )}
    </Loaded>
  );
}

function Age({ load, office, liveness }: { load: Load<OverviewData>; office: OfficeContext; liveness: Liveness }) {
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
      {t('overview.asOf', { time: timeOfDay(data.readiness.asOf, office.timeZone) })}{' '}
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

/** What gates answered without a network and the server would not have: each with both times. */
function Contradictions({ list, office }: { list: OverviewData['contradictions']; office: OfficeContext }) {
  return (
    <Panel title={t('contradictions.title', { count: list.length })}>
      {list.length === 0 && <p>{t('contradictions.none')}</p>}
      <ul class="plain">
        {list.map(({ clientId, carNumber, askedAt, askedBy, contradicts }) => (
          <li key={clientId} class="notice bad">
            <strong>{t('car', { number: carNumber })}</strong>{' '}
            {t('contradictions.asked', { time: dayAndTime(askedAt, office.timeZone), who: askedBy })} {contradicts}
          </li>
        ))}
      </ul>
    </Panel>
  );
}

/** Who still has to declare, and until when it can be done. */
function Undeclared({ undeclared, office }: { undeclared: ReadinessView['undeclared']; office: OfficeContext }) {
  const { total, cars, closesAt, open } = undeclared;
  const time = dayAndTime(closesAt, office.timeZone);
  return (
    <Panel title={t('undeclared.title', { count: total })}>
      <p class="soft">{open ? t('undeclared.open', { time }) : t('undeclared.closed', { time })}</p>
      <ul class="plain cars">
        {cars.map(({ entryId, carNumber, runGroup, reason }) => (
          <li key={entryId}>
            <CarLink entryId={entryId} carNumber={carNumber} runGroup={runGroup} />
            <span>{reason}</span>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

/** Entries by what the gate says of them, in all and by run group; the bars show the same numbers. */
function StatusTable({ readiness }: { readiness: ReadinessView }) {
  const { total, statuses, groups } = readiness.entries;
  const head = [
    t('status'),
    t('overview.all'),
    ...groups.map(({ runGroupId, name }) => (
      <Link key={runGroupId} to={{ section: 'entries', group: runGroupId }}>
        {name}
      </Link>
    )),
    <span key="bar" class="unseen">
      {t('overview.share')}
    </span>,
  ];
  return (
    <Panel title={t('overview.statuses')}>
      <Table caption={t('overview.statusesCaption')} head={head}>
        {STATUSES.map((status) => (
          <tr key={status} data-count={status}>
            <th scope="row">
              <StatusMark status={status} />
            </th>
            <td class="number">{statuses[status]}</td>
            {groups.map((group) => (
              <td key={group.runGroupId} class="number">
                {group.statuses[status]}
              </td>
            ))}
            <td class="bar-cell">
              <Bar status={status} share={total === 0 ? 0 : statuses[status] / total} />
            </td>
          </tr>
        ))}
        <tr data-count="total">
          <th scope="row">{t('overview.total')}</th>
          <td class="number">{total}</td>
          {groups.map((group) => (
            <td key={group.runGroupId} class="number">
              {group.total}
            </td>
          ))}
          <td />
        </tr>
      </Table>
    </Panel>
  );
}

function Bar({ status, share }: { status: Status; share: number }) {
  return (
    <span class="bar" aria-hidden="true">
      <span class={`fill ${toneOf(status)}`} style={{ width: `${share * 100}%` }} />
    </span>
  );
}

/** What is found most often, so that it can be told to all before the next event. */
function Findings({ findings }: { findings: ReadinessView['findings'] }) {
  return (
    <Panel title={t('findings.title')}>
      {findings.length === 0 ? (
        <p>{t('findings.none')}</p>
      ) : (
        <Table
          caption={t('findings.caption')}
          head={[t('rule'), t('findings.cars'), t('effect.bar'), t('effect.inspect'), t('effect.advise')]}
        >
          {findings.map(({ ruleId, title, cars, bars, inspects, advises }) => (
            <tr key={ruleId}>
              <th scope="row">{title}</th>
              <td class="number">{cars}</td>
              <td class="number">{bars}</td>
              <td class="number">{inspects}</td>
              <td class="number">{advises}</td>
            </tr>
          ))}
        </Table>
      )}
    </Panel>
  );
}

/** Rules that are only counted: how many cars they would have hit. */
function Watched({ watched }: { watched: ReadinessView['watched'] }) {
  if (watched.length === 0) return null;
  return (
    <Panel title={t('watched.title')}>
      <Table
        caption={t('watched.caption')}
        head={[t('rule'), t('watched.judged'), t('result.not-met'), t('result.unanswerable')]}
      >
        {watched.map(({ ruleId, title, judged, notMet, unanswerable }) => (
          <tr key={ruleId}>
            <th scope="row">{title}</th>
            <td class="number">{judged}</td>
            <td class="number">{notMet}</td>
            <td class="number">{unanswerable}</td>
          </tr>
        ))}
      </Table>
    </Panel>
  );
}

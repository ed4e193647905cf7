import { useState } from 'preact/hooks';
import type { ReadinessView } from '../../api/operations.ts';
import { dayAndTime, type OfficeContext } from '../parts/office-context.ts';
import { Panel, Table } from '../parts/panel.tsx';
import { text } from '../text.ts';
import { Link } from '../parts/link.tsx';
import { CarLink } from './holds.tsx';

const { t } = text;
type Line = ReadinessView['line'];

/** When the line is through, and how many inspectors it takes to be in time. */
export function Forecast({ line, office }: { line: Line; office: OfficeContext }) {
  const { waiting, expected, inspectors, service, inspectorsNeeded, assumptions } = line;
  const at = (instant: string | null): string =>
    instant === null ? t('forecast.nobody') : dayAndTime(instant, office.timeZone);
  const { minutes } = service;
  return (
    <Panel title={t('forecast.title')}>
      <dl class="facts">
        <Fact name={t('forecast.waiting')} value={waiting} />
        <Fact name={t('forecast.expected')} value={expected} />
        <Fact name={t('forecast.inspectors')} value={inspectors} />
        <Fact name={t('forecast.needed')} value={inspectorsNeeded ?? t('forecast.tooLate')} />
        <Fact
          name={t('forecast.minutes')}
          value={t(`forecast.${service.from}`, { minutes, count: service.measured })}
        />
        <Fact name={t('forecast.waitingDone')} value={at(line.waitingDoneAt)} />
        <Fact name={t('forecast.allDone')} value={at(line.allDoneAt)} />
      </dl>
      <Table
        caption={t('forecast.caption')}
        head={[
          t('group'),
          t('forecast.firstSession'),
          t('forecast.waiting'),
          t('forecast.expected'),
          t('forecast.done'),
          t('forecast.inTime'),
          t('forecast.needed'),
        ]}
      >
        {line.groups.map((group) => (
          <tr key={group.runGroupId}>
            <th scope="row">{group.name}</th>
            <td>{dayAndTime(group.firstSessionAt, office.timeZone)}</td>
            <td class="number">{group.waiting}</td>
            <td class="number">{group.expected}</td>
            <td>{at(group.doneAt)}</td>
            <td>{inTime(group.inTime)}</td>
            <td class="number">{group.inspectorsNeeded ?? t('forecast.tooLate')}</td>
          </tr>
        ))}
      </Table>
      <details>
        <summary>{t('forecast.assumptions')}</summary>
        <ul>
          {assumptions.map((one) => (
            <li key={one}>{one}</li>
          ))}
        </ul>
      </details>
    </Panel>
  );
}

export function Fact({ name, value }: { name: string; value: string | number }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd class="number">{value}</dd>
    </div>
  );
}

function inTime(answer: boolean | null): string {
  if (answer === null) return t('forecast.nobody');
  return answer ? t('yes') : t('no');
}

/** As many as one person calls in half an hour. */
const FIRST = 8;

interface WhatNowProps {
  readiness: ReadinessView;
  office: OfficeContext;
}

/** What a person can do now so that the morning works: whom to call, and what helps at the line. */
export function WhatNow({ readiness, office }: WhatNowProps) {
  return (
    <>
      <Calls calls={readiness.calls} office={office} />
      <Options line={readiness.line} office={office} asOf={readiness.asOf} />
    </>
  );
}

/** Entries that will not start as they are, first sessions first, each with how to reach its entrant. */
function Calls({ calls, office }: { calls: ReadinessView['calls']; office: OfficeContext }) {
  const { total, cars } = calls;
  const [all, setAll] = useState(false);
  const shown = all ? cars : cars.slice(0, FIRST);
  if (total === 0) return null;
  return (
    <Panel title={t('calls.title', { count: total })}>
      <Table
        caption={t('calls.caption', { count: shown.length })}
        head={[t('carNumber'), t('calls.why'), t('forecast.firstSession'), t('entrant.name'), t('calls.reach')]}
      >
        {shown.map(({ entryId, carNumber, runGroup, why, firstSessionAt, name, phone, email }) => (
          <tr key={entryId} data-call={why}>
            <th scope="row">
              <CarLink entryId={entryId} carNumber={carNumber} runGroup={runGroup} />
            </th>
            <td>{t(`calls.${why}`)}</td>
            <td>{dayAndTime(firstSessionAt, office.timeZone)}</td>
            <td>{name}</td>
            <td>
              {phone !== undefined && (
                <a class="button" href={`tel:${phone.replaceAll(/[^\d+]/g, '')}`}>
                  {phone}
                </a>
              )}
              {email !== undefined && (
                <a class="button" href={`mailto:${encodeURIComponent(email)}`}>
                  {email}
                </a>
              )}
              {phone === undefined && email === undefined && (
                <Link to={{ section: 'entries', entry: entryId }} class="button">
                  {t('calls.unreachable')}
                </Link>
              )}
            </td>
          </tr>
        ))}
      </Table>
      {shown.length < cars.length && (
        <div class="row">
          <button type="button" onClick={() => setAll(true)}>
            {t('calls.more', { count: cars.length })}
          </button>
        </div>
      )}
    </Panel>
  );
}

/** What the line comes to with the people there, and with one or two more. */
function Options({ line, office, asOf }: { line: ReadinessView['line']; office: OfficeContext; asOf: string }) {
  const { options, waiting, expected, inspectors, service } = line;
  if (waiting + expected === 0) return null;
  const at = (instant: string): string => dayAndTime(instant, office.timeZone);
  const { minutes } = service;
  const isAssumed = service.from === 'assumption';
  const paceKey = inspectors === 0 ? 'helps.nobody' : isAssumed ? 'helps.nowAssumed' : 'helps.now';
  const late = (option: ReadinessView['line']['options'][number]): string =>
    option.lateGroups.length === 0 ? t('helps.allInTime') : t('helps.late', { groups: option.lateGroups.join(', ') });
  return (
    <Panel title={t('helps.title')}>
      <p>
        {t(paceKey, { cars: waiting + expected, inspectors, minutes })}{' '}
        {inspectors === 0 && isAssumed && t('helps.assumed')}
      </p>
      <Table
        caption={t('helps.caption')}
        head={[t('helps.people'), t('forecast.done'), t('forecast.inTime'), t('helps.startBy')]}
      >
        {options.map((option) => (
          <tr key={option.inspectors} data-people={option.inspectors}>
            <th scope="row" class="number">
              {option.inspectors}
            </th>
            <td>{at(option.allDoneAt)}</td>
            <td>{late(option)}</td>
            <td>{option.startBy !== null && (option.startBy < asOf ? t('helps.tooLate') : at(option.startBy))}</td>
          </tr>
        ))}
      </Table>
    </Panel>
  );
}

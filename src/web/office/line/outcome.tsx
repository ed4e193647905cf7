import type { LinePlanned } from '../../api/operations.ts';
import { defineText } from '../../shared/text.ts';
import { Fact } from '../overview/what-now.tsx';
import { Table } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/office-context.ts';

/** Texts of the times at the line. */
export const lineText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = lineText;
/** Share of imagined mornings on which all must be in time. */
const SAFE = 0.95;

/** A told time with its lane, where several are open. */
export function toldText({ at, lane }: { at: string; lane?: number }, timeZone: string): string {
  const time = dayAndTime(at, timeZone);
  return lane === undefined ? time : t('lane', { at: time, lane });
}

const of100 = (share: number): string => String(Math.round(100 * share));

/** What would come of a plan: who waits how long, who would be too late, and what it would need. */
export function Outcome({ outcome, timeZone }: { outcome: LinePlanned; timeZone: string }) {
  const { cars, withoutTime, roomKept, meanWaitMinutes, allInTimeShare, missing } = outcome;
  return (
    <div class="stack">
      {allInTimeShare >= SAFE ? <p class="notice good">{t('safe')}</p> : <Needs outcome={outcome} />}
      <dl class="facts">
        <Fact name={t('all-in-time')} value={t('of-100', { count: of100(allInTimeShare) })} />
        <Fact name={t('wait')} value={t('wait.minutes', { minutes: meanWaitMinutes })} />
        <Fact name={t('missing')} value={missing} />
      </dl>
      {withoutTime.length > 0 && (
        <p class="notice look">{t('without', { cars: withoutTime.map(({ carNumber }) => carNumber).join(', ') })}</p>
      )}
      {roomKept > 0 && <p>{t('room', { count: roomKept })}</p>}
      <Table caption={t('cars')} head={[t('car'), t('time'), t('due'), t('risk')]}>
        {cars.map(({ entryId, carNumber, runGroup, told, was, dueAt, missShare }) => (
          <tr key={entryId}>
            <th scope="row">
              {carNumber} <span class="soft">{runGroup}</span>
            </th>
            <td class="number">
              {toldText(told, timeZone)}
              {was !== undefined && <span class="soft"> {t('was', { at: toldText(was, timeZone) })}</span>}
            </td>
            <td class="number">{dayAndTime(dueAt, timeZone)}</td>
            <td class="number">{missShare >= 0.005 && t('risk.count', { count: of100(missShare) })}</td>
          </tr>
        ))}
      </Table>
      <p class="soft">{t('caution')}</p>
    </div>
  );
}

function Needs({ outcome: { inspectorsMissing, opensEarlier } }: { outcome: LinePlanned }) {
  return (
    <div class="notice look">
      <p>{t('unsafe')}</p>
      <ul>
        <li>
          {inspectorsMissing === null ? t('needs.people.never') : t('needs.people', { count: inspectorsMissing })}
        </li>
        {opensEarlier !== null && opensEarlier > 0 && <li>{t('needs.earlier', { minutes: opensEarlier })}</li>}
      </ul>
    </div>
  );
}

import type { ReadinessView } from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';
import { Link } from '../parts/link.tsx';
import { Panel } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { text } from '../text.ts';
import type { OverviewData } from './live.ts';

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

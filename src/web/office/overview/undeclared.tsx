import type { ReadinessView } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Panel } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { text } from '../text.ts';
import { CarLink } from './holds.tsx';

const { t } = text;

/** Who still has to declare, and until when it can be done. */
export function Undeclared({ undeclared, desk }: { undeclared: ReadinessView['undeclared']; desk: Desk }) {
  const { total, cars, closesAt, open } = undeclared;
  const time = dayAndTime(closesAt, desk.timeZone);
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

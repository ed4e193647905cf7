import type { Desk } from '../parts/desk.ts';
import { Panel } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { text } from '../text.ts';
import type { OverviewData } from './read-overview.ts';

const { t } = text;

/** What gates answered without a network and the server would not have: each with both times. */
export function Contradictions({ list, desk }: { list: OverviewData['contradictions']; desk: Desk }) {
  return (
    <Panel title={t('contradictions.title', { count: list.length })}>
      {list.length === 0 && <p>{t('contradictions.none')}</p>}
      <ul class="plain">
        {list.map(({ clientId, carNumber, askedAt, askedBy, contradicts }) => (
          <li key={clientId} class="notice bad">
            <strong>{t('car', { number: carNumber })}</strong>{' '}
            {t('contradictions.asked', { time: dayAndTime(askedAt, desk.timeZone), who: askedBy })} {contradicts}
          </li>
        ))}
      </ul>
    </Panel>
  );
}

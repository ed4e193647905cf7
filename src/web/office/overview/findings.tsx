import type { ReadinessView } from '../../api/operations.ts';
import { Panel } from '../parts/panel.tsx';
import { Table } from '../parts/table.tsx';
import { text } from '../text.ts';

const { t } = text;

/** What is found most often, so that it can be told to all before the next event. */
export function Findings({ findings }: { findings: ReadinessView['findings'] }) {
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
export function Watched({ watched }: { watched: ReadinessView['watched'] }) {
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

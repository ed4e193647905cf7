import type { ReadinessView } from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';
import { Panel, Table } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { text } from '../text.ts';

const { t } = text;
type Line = ReadinessView['line'];

/** When the line is through, and how many inspectors it takes to be in time. */
export function Forecast({ line, office }: { line: Line; office: OfficeContext }) {
  const { waiting, expected, inspectors, service, inspectorsNeeded, assumptions } = line;
  const at = (instant: string | null): string =>
    instant === null ? t('forecast.nobody') : dayAndTime(instant, office.timeZone);
  const minutes = Math.round(service.minutes * 10) / 10;
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

import type { ReadinessView } from '../../api/operations.ts';
import { Link } from '../parts/link.tsx';
import { Panel } from '../parts/panel.tsx';
import { type Status, STATUSES, StatusMark, toneOf } from '../parts/status.tsx';
import { Table } from '../parts/table.tsx';
import { text } from '../text.ts';

const { t } = text;

/** Entries by what the gate says of them, in all and by run group; the bars show the same numbers. */
export function StatusTable({ readiness }: { readiness: ReadinessView }) {
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

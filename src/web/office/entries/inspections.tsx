import { call } from '../../api/call.ts';
import { type Finding, type InspectionView, listInspections } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { Table } from '../parts/table.tsx';
import { dayAndTime } from '../parts/time.ts';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';

const { t } = text;

/** What was submitted, newest first, with what the rules found. */
export function Inspections({ entryId, desk, at }: { entryId: string; desk: Desk; at: number }) {
  const load = useLoad(`inspections ${entryId} ${at}`, async (signal) => {
    const { body } = await call(listInspections, { params: { entryId } }, { token: desk.token, signal });
    return body.inspections.toSorted((a, b) => b.revision - a.revision);
  });
  return (
    <Panel title={t('inspections.title')}>
      <Loaded of={load}>
        {(list) => (
          <>
            {list.length === 0 && <p>{t('inspections.none')}</p>}
            {list.map((one, index) => (
              <Revision key={one.inspectionId} inspection={one} desk={desk} open={index === 0} />
            ))}
          </>
        )}
      </Loaded>
    </Panel>
  );
}

function Revision({ inspection, desk, open }: { inspection: InspectionView; desk: Desk; open: boolean }) {
  const { revision, verdict, submittedAt, findings, cause } = inspection;
  const wrong = findings.filter(({ result }) => result !== 'met');
  return (
    <details open={open}>
      <summary>
        {t('inspections.revision', { number: revision, time: dayAndTime(submittedAt, desk.timeZone) })}
        {': '}
        {t(`verdict.${verdict}`)}
        {cause === 'rejudged' && ` (${t('inspections.rejudged')})`}
      </summary>
      <p>{t('inspections.met', { met: findings.length - wrong.length, all: findings.length })}</p>
      {wrong.length > 0 && (
        <Table
          caption={t('inspections.wrong', { number: revision })}
          head={[
            t('rule'),
            t('inspections.counts'),
            t('inspections.measured'),
            t('inspections.limit'),
            t('inspections.message'),
          ]}
        >
          {wrong.map((finding) => (
            <Row key={`${finding.ruleId} ${finding.position ?? ''}`} finding={finding} />
          ))}
        </Table>
      )}
    </details>
  );
}

function Row({ finding }: { finding: Finding }) {
  const { title, position, result, counts, measured, limit, message, watched, conceded } = finding;
  return (
    <tr>
      <th scope="row">{position === undefined ? title : `${title}, ${position}`}</th>
      <td>
        {t(`effect.${counts}`)}
        {watched === true && `, ${t('inspections.watched')}`}
        {conceded !== undefined && `, ${t('inspections.conceded')}`}
      </td>
      <td class="number">{measured === undefined ? t(`result.${result}`) : valueText(measured)}</td>
      <td class="number">{limit ?? ''}</td>
      <td>{message}</td>
    </tr>
  );
}

const valueText = ({ value, unit }: NonNullable<Finding['measured']>): string =>
  [String(value), unit ?? ''].join(' ').trim();

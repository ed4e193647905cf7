import { call } from '../../api/call.ts';
import { type Finding, type InspectionView, listInspections } from '../../api/operations.ts';
import { type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Loaded, Panel, Table } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { WorkItOut } from '../../workshop/link.tsx';
import { text } from '../text.ts';

const { t } = text;

/** What was submitted, newest first, with what the rules found. */
export function Inspections({ entryId, office, at }: { entryId: string; office: OfficeContext; at: number }) {
  const load = useLoad(`inspections ${entryId} ${at}`, async (signal) => {
    const { body } = await call(listInspections, { params: { entryId } }, { token: office.token, signal });
    return body.inspections.toSorted((a, b) => b.revision - a.revision);
  });
  return (
    <Panel title={t('inspections.title')}>
      <Loaded of={load}>
        {(list) => (
          <>
            {list.length === 0 && <p>{t('inspections.none')}</p>}
            {list.map((one, index) => (
              <Revision key={one.inspectionId} inspection={one} office={office} open={index === 0} />
            ))}
          </>
        )}
      </Loaded>
    </Panel>
  );
}

function Revision({ inspection, office, open }: { inspection: InspectionView; office: OfficeContext; open: boolean }) {
  const { revision, verdict, submittedAt, tally, findings, cause } = inspection;
  const wrong = findings.filter(({ result }) => result !== 'met');
  return (
    <details open={open}>
      <summary>
        {t('inspections.revision', { number: revision, time: dayAndTime(submittedAt, office.timeZone) })}
        {': '}
        {t(`verdict.${verdict}`)}
        {cause === 'rejudged' && ` (${t('inspections.rejudged')})`}
      </summary>
      <p>{t('inspections.met', { met: tally.met, all: tally.all })}</p>
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
            <Row key={`${finding.ruleId} ${finding.position ?? ''}`} finding={finding} entryId={inspection.entryId} />
          ))}
        </Table>
      )}
    </details>
  );
}

function Row({ finding, entryId }: { finding: Finding; entryId: string }) {
  const { title, items, position, result, counts, measured, limit, message, watched, conceded } = finding;
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
      <td>
        {message} <WorkItOut from="office" items={items} entryId={entryId} about={title} />
      </td>
    </tr>
  );
}

const valueText = ({ value, unit }: NonNullable<Finding['measured']>): string =>
  [String(value), unit ?? ''].join(' ').trim();

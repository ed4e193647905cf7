import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  type Finding,
  getHistory,
  type HistoryView,
  type InspectionView,
  listInspections,
} from '../../api/operations.ts';
import { dayAndTime, type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Loaded, Panel, Table } from '../parts/panel.tsx';
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

const ACTIONS = [
  'claim.expired',
  'claim.renewed',
  'clearance.expired',
  'concession.approved',
  'concession.granted',
  'concession.revoked',
  'condition.done',
  'condition.fell-due',
  'condition.moved',
  'declaration.voided',
  'entry.created',
  'entry.erased',
  'entry.recalled',
  'entry.signed-off',
  'entry.updated',
  'entry.sent-back',
  'entry.withdrawn',
  'hold.lifted',
  'hold.placed',
  'inspection.rejudged',
  'inspection.submitted',
  'log.written',
  'photo.added',
  'photo.removed',
  'shop.ended',
  'shop.invited',
  'shop.joined',
  'shop.signed',
  'ticket.claimed',
  'ticket.put-back',
] as const;

/** An action of the history in words; one that this page does not know yet stays as the server names it. */
function actionInWords(action: string): string {
  const known = ACTIONS.find((one) => one === action);
  return known === undefined ? action : text.t(`action.${known}`);
}

interface HistoryProps {
  entryId: string;
  office: OfficeContext;
  /** changes when the entry was read again */
  at: number;
}

/** What happened to an entry, on demand, and whether its chain of hashes holds. */
export function History({ entryId, office, at }: HistoryProps) {
  const [open, setOpen] = useState(false);
  return (
    <Panel title={t('history.title')}>
      <div class="row">
        <button type="button" aria-expanded={open} onClick={() => setOpen(!open)}>
          {open ? t('history.hide') : t('history.show')}
        </button>
      </div>
      {open && <Rows {...{ entryId, office, at }} />}
    </Panel>
  );
}

function Rows({ entryId, office, at }: HistoryProps) {
  const load = useLoad<HistoryView>(`history ${entryId} ${at}`, async (signal) => {
    const { body } = await call(getHistory, { params: { entryId } }, { token: office.token, signal });
    return body;
  });
  return (
    <Loaded of={load}>
      {({ history, intact, brokenAt }) => (
        <>
          {intact ? (
            <p>{t('history.intact')}</p>
          ) : (
            <p class="notice bad">{t('history.broken', { row: brokenAt ?? 0 })}</p>
          )}
          <Table
            caption={t('history.title')}
            head={[t('history.time'), t('history.what'), t('history.who'), t('history.why')]}
          >
            {history.map((row) => (
              <tr key={row.seq}>
                <td>{dayAndTime(row.at, office.timeZone)}</td>
                <th scope="row">
                  {row.action === 'inspection.submitted' && row.actor.role !== 'entrant'
                    ? t('action.inspection.typed')
                    : actionInWords(row.action)}
                </th>
                <td>{row.actor.name}</td>
                <td>{reasonIn(row.data)}</td>
              </tr>
            ))}
          </Table>
        </>
      )}
    </Loaded>
  );
}

/** The words that somebody gave for it. */
function reasonIn(data: Readonly<Record<string, unknown>>): string {
  const words = ['reason', 'note', 'text', 'decision', 'verdict'].map((name) => data[name]);
  return words.filter((word) => typeof word === 'string').join(', ');
}

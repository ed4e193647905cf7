import { useEffect, useRef } from 'preact/hooks';
import type { ImportReport, ImportRow, ListLook } from '../../api/operations.ts';
import { CarLink } from '../overview/holds.tsx';
import { Table } from '../parts/panel.tsx';
import { wordsFor } from './reading.tsx';
import { importText } from './text.ts';

const { t } = importText;

/** What became of a file, or would become: bad rows first, each with column and reason. */
interface ReportProps {
  report: ImportReport;
  /** of the file, to name columns as it does */
  look?: ListLook | undefined;
  focus?: boolean;
}

export function Report({ report, look, focus = true }: ReportProps) {
  const { dryRun, created, updated, unchanged, rejected, rows } = report;
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    if (focus) heading.current?.focus();
  }, [report.rows]);
  const bad = rows.filter(({ outcome }) => outcome === 'rejected');
  const looked = rows.filter(({ warnings }) => warnings !== undefined);
  const others = rows.flatMap(({ outcome, ...row }) =>
    outcome === 'created' || outcome === 'updated' ? [{ ...row, outcome }] : [],
  );
  return (
    <div class="stack">
      <h4 ref={heading} tabIndex={-1}>
        {dryRun ? t('report.would') : t('report.did')}
      </h4>
      <p class={`notice ${rejected > 0 ? 'bad' : 'good'}`}>
        {t('report.counts', { created, updated, unchanged, rejected })}
      </p>
      {bad.length > 0 && (
        <Table
          caption={t('report.bad')}
          head={[t('report.row'), t('carNumber'), t('report.column'), t('report.reason')]}
        >
          {bad.map((row) => (
            <Bad key={row.row} row={row} look={look} />
          ))}
        </Table>
      )}
      {looked.length > 0 && <LookAlikes rows={looked} />}
      {others.length > 0 && (
        <Table
          caption={t('report.good')}
          head={[t('report.row'), t('carNumber'), t('report.outcome'), t('report.changed')]}
        >
          {others.map(({ row, carNumber, outcome, changed, entryId }) => (
            <tr key={row}>
              <td class="number">{row}</td>
              <th scope="row">
                {entryId === undefined ? (
                  carNumber
                ) : (
                  <CarLink entryId={entryId} carNumber={carNumber ?? ''} runGroup="" />
                )}
              </th>
              <td>{t(`report.${outcome}`)}</td>
              <td>{(changed ?? []).map((column) => wordsFor(column, look)).join(', ')}</td>
            </tr>
          ))}
        </Table>
      )}
    </div>
  );
}

function LookAlikes({ rows }: { rows: readonly ImportRow[] }) {
  return (
    <Table caption={t('report.lookAlikes')} head={[t('report.row'), t('carNumber'), t('report.reason')]}>
      {rows.map(({ row, carNumber, warnings = [] }) => (
        <tr key={row}>
          <td class="number">{row}</td>
          <th scope="row" class="number">
            {carNumber}
          </th>
          <td>{warnings.map(({ detail }) => detail).join(' ')}</td>
        </tr>
      ))}
    </Table>
  );
}

function Bad({ row, look }: { row: ImportRow; look: ListLook | undefined }) {
  return (
    <>
      {(row.errors ?? []).map(({ column, detail }, index) => (
        <tr key={index}>
          <td class="number">{row.row}</td>
          <th scope="row" class="number">
            {row.carNumber ?? ''}
          </th>
          <td>{column === undefined ? t('report.wholeRow') : wordsFor(column, look)}</td>
          <td>{detail}</td>
        </tr>
      ))}
    </>
  );
}

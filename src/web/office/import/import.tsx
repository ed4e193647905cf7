import { useState } from 'preact/hooks';
import { ApiProblem, call } from '../../api/call.ts';
import { exportEntries, importEntries, type ImportReport } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Check } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { say } from '../parts/say.ts';
import { type Trouble, troubleOf } from '../parts/trouble.ts';
import { TroubleBox } from '../parts/trouble-box.tsx';
import { text } from '../text.ts';
import { Report } from './report.tsx';

const { t } = text;

/** Entries from a spreadsheet, tried before they are taken, and out again. */
export function Import({ desk }: { desk: Desk }) {
  return (
    <>
      <FromFile desk={desk} />
      <Export desk={desk} />
    </>
  );
}

function FromFile({ desk }: { desk: Desk }) {
  const [file, setFile] = useState<File>();
  const [partial, setPartial] = useState(false);
  const [report, setReport] = useState<ImportReport>();
  const send = (dryRun: boolean): Promise<ImportReport> => sendFile(desk, file, { dryRun, partial });
  const ready = report?.dryRun === true && (report.rejected === 0 || partial);
  return (
    <Panel title={t('import.title')}>
      <p>{t('import.how')}</p>
      <Form
        label={t('import.title')}
        submit={t('import.try')}
        disabled={file === undefined}
        onSend={async () => setReport(await send(true))}
      >
        <label class="field">
          {t('import.file')}
          <input
            type="file"
            accept=".csv,text/csv"
            onChange={({ currentTarget }) => {
              setFile(currentTarget.files?.[0]);
              setReport(undefined);
            }}
          />
        </label>
        <Check
          label={t('import.partial')}
          checked={partial}
          onChecked={(checked) => {
            setPartial(checked);
            setReport(undefined);
          }}
        />
      </Form>
      {report !== undefined && <Report report={report} desk={desk} />}
      {ready && (
        <Form
          label={t('import.take')}
          submit={t('import.take')}
          tone="good"
          onSend={async () => {
            const done = await send(false);
            setReport(done);
            if (done.rejected === 0 || partial) say(t('import.done', { created: done.created, updated: done.updated }));
          }}
        >
          <p>{t('import.untilNow')}</p>
        </Form>
      )}
    </Panel>
  );
}

async function sendFile(
  { eventId, token }: Desk,
  file: File | undefined,
  { dryRun, partial }: { dryRun: boolean; partial: boolean },
): Promise<ImportReport> {
  const body = file === undefined ? '' : await file.text();
  const query = { dryRun: dryRun ? 'true' : 'false', partial: partial ? 'true' : 'false' } as const;
  try {
    return (await call(importEntries, { params: { eventId }, query, body }, { token, type: 'text/csv' })).body;
  } catch (error) {
    const refused = reportIn(error);
    if (refused === undefined) throw error;
    return refused;
  }
}

/** A file with bad rows is refused as a whole; its report stands in the refusal. */
function reportIn(error: unknown): ImportReport | undefined {
  if (!(error instanceof ApiProblem) || error.problem.code !== 'import-not-acceptable') return undefined;
  // The members of the report stand beside those of the problem.
  return error.problem as unknown as ImportReport;
}

function Export({ desk }: { desk: Desk }) {
  const { eventId, token, event } = desk;
  const [trouble, setTrouble] = useState<Trouble>();
  const download = async (): Promise<void> => {
    try {
      const { body } = await call(exportEntries, { params: { eventId } }, { token });
      const address = URL.createObjectURL(body);
      Object.assign(document.createElement('a'), { href: address, download: `${event.startsOn}-entries.csv` }).click();
      URL.revokeObjectURL(address);
      setTrouble(undefined);
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  return (
    <Panel title={t('export.title')}>
      <p>{t('export.how')}</p>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <div class="row">
        <button type="button" onClick={() => void download()}>
          {t('export.download')}
        </button>
      </div>
    </Panel>
  );
}

import { useState } from 'preact/hooks';
import { ApiProblem, call } from '../../api/call.ts';
import {
  exportEntries,
  getImport,
  type Import as ImportTask,
  importEntries,
  type ImportReport,
  type ImportSummary,
  listImports,
} from '../../api/operations.ts';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { Check, Form } from '../parts/form.tsx';
import { Loaded, Panel, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { Progress, useTask } from '../rules/trials.tsx';
import { text } from '../text.ts';
import { Report } from './report.tsx';

const { t } = text;

/** Entries from a spreadsheet, tried before they are taken, and out again. */
export function Import({ office }: { office: OfficeContext }) {
  return (
    <>
      <Imports office={office} />
      <Export office={office} />
    </>
  );
}

function Imports({ office }: { office: OfficeContext }) {
  const [importId, setImportId] = useState<string>();
  return (
    <>
      <FromFile office={office} onTaken={setImportId} />
      <Taken key={importId} office={office} importId={importId} />
    </>
  );
}

/**
 * An import that the server writes by itself: how far it is, then what came of each row. Without an id the newest one,
 * for whoever comes back to this page later.
 */
function Taken({ office, importId }: { office: OfficeContext; importId: string | undefined }) {
  const { eventId, token } = office;
  const load = useTask<{ state: ImportTask['state']; taken?: ImportTask }>(
    `import ${eventId} ${importId ?? ''}`,
    async (signal) => {
      const options = { token, signal };
      const newest = async () => (await call(listImports, { params: { eventId } }, options)).body.imports[0]?.importId;
      const id = importId ?? (await newest());
      if (id === undefined) return { state: 'done' };
      const taken = (await call(getImport, { params: { importId: id } }, options)).body;
      return { state: taken.state, taken };
    },
  );
  if (importId === undefined && load.data?.taken === undefined) return null;
  return (
    <Panel title={t('import.last')}>
      <Loaded of={load}>
        {({ taken }) => taken !== undefined && <Written taken={taken} office={office} focus={importId !== undefined} />}
      </Loaded>
    </Panel>
  );
}

function Written({ taken, office, focus }: { taken: ImportTask; office: OfficeContext; focus: boolean }) {
  const isOver = taken.state === 'done' || taken.state === 'failed';
  const time = dayAndTime(taken.requestedAt, office.timeZone);
  return (
    <>
      <p>{t('import.lastBy', { name: taken.requestedBy, time })}</p>
      <Progress {...taken} />
      {isOver && <Report report={{ ...taken, dryRun: false }} office={office} focus={focus} />}
    </>
  );
}

function FromFile({ office, onTaken }: { office: OfficeContext; onTaken(importId: string): void }) {
  const [file, setFile] = useState<File>();
  const [partial, setPartial] = useState(false);
  const [report, setReport] = useState<ImportReport>();
  const ready = report?.dryRun === true && (report.rejected === 0 || partial);
  return (
    <Panel title={t('import.title')}>
      <p>{t('import.how')}</p>
      <Form
        label={t('import.title')}
        submit={t('import.try')}
        disabled={file === undefined}
        onSend={async () => {
          const tried = await sendFile(office, file, { dryRun: true, partial });
          if ('dryRun' in tried) setReport(tried);
        }}
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
      {report !== undefined && <Report report={report} office={office} />}
      {ready && (
        <Take
          send={() => sendFile(office, file, { dryRun: false, partial })}
          onDone={(done) => {
            if ('importId' in done) onTaken(done.importId);
            setReport('importId' in done ? undefined : done);
          }}
        />
      )}
    </Panel>
  );
}

interface TakeProps {
  send(): Promise<ImportReport | ImportSummary>;
  onDone(done: ImportReport | ImportSummary): void;
}

/** Takes a file over that was tried: it is written at once, or by and by. */
function Take({ send, onDone }: TakeProps) {
  return (
    <Form
      label={t('import.take')}
      submit={t('import.take')}
      tone="good"
      onSend={async () => {
        const done = await send();
        onDone(done);
        if ('importId' in done) say(t('import.taken'));
        else if (done.rejected === 0) say(t('import.done', { created: done.created, updated: done.updated }));
      }}
    >
      <p>{t('import.untilNow')}</p>
    </Form>
  );
}

async function sendFile(
  { eventId, token }: OfficeContext,
  file: File | undefined,
  { dryRun, partial }: { dryRun: boolean; partial: boolean },
): Promise<ImportReport | ImportSummary> {
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

function Export({ office }: { office: OfficeContext }) {
  const { eventId, token, event } = office;
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

import { useId, useState } from 'preact/hooks';
import { ApiProblem, call } from '../../api/call.ts';
import {
  getImport,
  type Import as ImportTask,
  importList,
  type ImportReport,
  type ImportSummary,
  listImports,
  type ListLook,
  type ListReadingInput,
  lookAtList,
} from '../../api/operations.ts';
import { useGroups } from '../entries/entry-fields.tsx';
import { dayAndTime, type OfficeContext, say } from '../parts/office-context.ts';
import { Check, Form } from '../parts/form.tsx';
import { Loaded, Panel, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { Progress, useTask } from '../rules/trials.tsx';
import { Export } from './export.tsx';
import { ReadingPart } from './reading.tsx';
import { Report } from './report.tsx';
import { importText } from './text.ts';

/** A file, chosen or dropped. */
export function DropFile({ onFile }: { onFile(file: File): void }) {
  const id = useId();
  const [over, setOver] = useState(false);
  const [name, setName] = useState('');
  const take = (file: File | undefined): void => {
    if (file === undefined) return;
    setName(file.name);
    onFile(file);
  };
  return (
    <div
      class={`field drop ${over ? 'over' : ''}`}
      onDragOver={(event) => {
        event.preventDefault();
        setOver(true);
      }}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault();
        setOver(false);
        take(event.dataTransfer?.files[0]);
      }}
    >
      <label for={id}>{t('import.file')}</label>
      <span class="soft">{t('import.drop')}</span>
      <input
        id={id}
        type="file"
        accept=".csv,.txt,.tsv,.xlsx,text/csv,text/plain"
        onChange={({ currentTarget }) => take(currentTarget.files?.[0])}
      />
      {name !== '' && <span>{name}</span>}
    </div>
  );
}

/** The bytes of a file as base64, as they are: the server finds out what they are written in. */
export function base64Of(file: File): Promise<string> {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    // A data address: what stands after the comma is the file.
    reader.addEventListener('load', () =>
      resolve(typeof reader.result === 'string' ? (reader.result.split(',', 2)[1] ?? '') : ''),
    );
    reader.addEventListener('error', () => reject(reader.error ?? new Error('not readable')));
    reader.readAsDataURL(file);
  });
}

const { t } = importText;
export { importText as text };

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
      {isOver && <Report report={{ ...taken, dryRun: false }} focus={focus} />}
    </>
  );
}

/** What was read of a file, and how it was told to be read. */
interface Chosen {
  bytes: string;
  reading: ListReadingInput;
  look: ListLook;
}

function FromFile({ office, onTaken }: { office: OfficeContext; onTaken(importId: string): void }) {
  const groups = useGroups(office);
  const [chosen, setChosen] = useState<Chosen>();
  const [trouble, setTrouble] = useState<Trouble>();
  const [partial, setPartial] = useState(false);
  const [report, setReport] = useState<ImportReport>();
  const ready = report?.dryRun === true && (report.rejected === 0 || partial);
  const lookAt = async (bytes: string, reading: ListReadingInput): Promise<void> => {
    setReport(undefined);
    try {
      const look = await readLook(office, bytes, reading);
      setTrouble(undefined);
      setChosen({ bytes, look, reading: look.ours ? { ...reading, emptyCells: 'clear' } : reading });
    } catch (error) {
      setTrouble(troubleOf(error));
      setReport(reportIn(error));
    }
  };
  const send = (how: { dryRun: boolean }) => sendList(office, chosen, { ...how, partial });
  return (
    <Panel title={t('import.title')}>
      <p>{t('import.how')}</p>
      <DropFile onFile={(file) => void base64Of(file).then((bytes) => lookAt(bytes, {}), fail(setTrouble))} />
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      {chosen !== undefined && (
        <>
          <ReadingPart
            look={chosen.look}
            reading={chosen.reading}
            groups={(groups.data ?? []).map(({ name }) => name)}
            onReading={(reading) => void lookAt(chosen.bytes, reading)}
          />
          <Try
            {...{ chosen, partial }}
            onTry={() => send({ dryRun: true }).then((tried) => setReport('dryRun' in tried ? tried : undefined))}
            onPartial={(checked) => {
              setPartial(checked);
              setReport(undefined);
            }}
            onClear={(clear) => {
              setChosen({ ...chosen, reading: { ...chosen.reading, emptyCells: clear ? 'clear' : 'leave' } });
              setReport(undefined);
            }}
          />
        </>
      )}
      {report !== undefined && <Report report={report} look={chosen?.look} />}
      {ready && (
        <Take
          send={() => send({ dryRun: false })}
          onDone={(done) => {
            if ('importId' in done) onTaken(done.importId);
            setReport('importId' in done ? undefined : done);
          }}
        />
      )}
    </Panel>
  );
}

interface TryProps {
  chosen: Chosen;
  partial: boolean;
  onTry(): Promise<void>;
  onPartial(checked: boolean): void;
  onClear(checked: boolean): void;
}

function Try({ chosen, partial, onTry, onPartial, onClear }: TryProps) {
  return (
    <Form label={t('import.title')} submit={t('import.try')} onSend={onTry}>
      <Check label={t('import.partial')} checked={partial} onChecked={onPartial} />
      <Check label={t('import.clear')} checked={chosen.reading.emptyCells === 'clear'} onChecked={onClear} />
    </Form>
  );
}

const fail = (setTrouble: (trouble: Trouble) => void) => (error: unknown) => setTrouble(troubleOf(error));

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

/** A list of thousands of rows is read and planned before it is answered. */
const PATIENT = { timeoutMs: 60_000 };

async function readLook({ eventId, token }: OfficeContext, file: string, reading: ListReadingInput): Promise<ListLook> {
  const input = { params: { eventId }, body: { file, reading } };
  return (await call(lookAtList, input, { token, ...PATIENT })).body;
}

async function sendList(
  { eventId, token }: OfficeContext,
  chosen: Chosen | undefined,
  { dryRun, partial }: { dryRun: boolean; partial: boolean },
): Promise<ImportReport | ImportSummary> {
  const { bytes: file = '', reading = {} } = chosen ?? {};
  try {
    const input = { params: { eventId }, body: { file, reading, dryRun, partial } };
    return (await call(importList, input, { token, ...PATIENT })).body;
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

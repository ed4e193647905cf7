import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { publishRuleSet } from '../../api/operations.ts';
import { type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Area, Form, Select } from '../parts/form.tsx';
import { Loaded, Panel, TroubleBox } from '../parts/panel.tsx';
import { text } from '../text.ts';
import type { CodeEditor, Mark } from './code-editor.ts';
import { type Checked, type Draft, type Format, readDraft, useCheck, useDraft } from './read-draft.ts';

interface PublishProps {
  ruleSetId: string;
  office: OfficeContext;
  etag: string | undefined;
  /** there is something typed that is not saved */
  dirty: boolean;
  /** whether the check found no fault; undefined while it is at work */
  ok: boolean | undefined;
  onPublished(): void;
}

/** Makes a version of the draft, which never changes again. */
function Publish({ ruleSetId, office, etag, dirty, ok, onPublished }: PublishProps) {
  const [changelog, setChangelog] = useState('');
  const hindrance = hindranceOf(dirty, ok);
  return (
    <Panel title={t('publish.title')}>
      <Form
        label={t('publish.title')}
        submit={t('publish.send')}
        disabled={hindrance !== undefined}
        onSend={async () => {
          const headers = etag === undefined ? {} : { 'if-match': etag };
          const input = { params: { ruleSetId }, headers, body: { changelog } };
          const { body } = await call(publishRuleSet, input, { token: office.token });
          say(t('publish.done', { version: body.version }));
          setChangelog('');
          onPublished();
        }}
      >
        <p>{hindrance ?? t('publish.how')}</p>
        <Area
          label={t('publish.changelog')}
          hint={t('publish.changelogHint')}
          pointer="/changelog"
          value={changelog}
          onValue={setChangelog}
        />
      </Form>
    </Panel>
  );
}

function hindranceOf(dirty: boolean, ok: boolean | undefined): string | undefined {
  if (dirty) return t('publish.saveFirst');
  if (ok === undefined) return t('check.pending');
  return ok ? undefined : t('publish.faults');
}

interface CodeAreaProps {
  /** shown at the start; later changes are made by whoever types, or through `onReady` */
  first: string;
  format: Format;
  marks: readonly Mark[];
  onChange(text: string): void;
  onReady(editor: CodeEditor): unknown;
}

/** A place for the editor, which is loaded only when somebody opens a rule set. */
function CodeArea({ first, format, marks, onChange, onReady }: CodeAreaProps) {
  const host = useRef<HTMLDivElement>(null);
  const editor = useRef<CodeEditor | undefined>(undefined);
  const latest = useRef({ marks, onChange });
  latest.current = { marks, onChange };
  useEffect(() => {
    let closed = false;
    const open = async (): Promise<void> => {
      const { openCodeEditor } = await import('./code-editor.ts');
      if (closed || host.current === null) return;
      const root = host.current.shadowRoot ?? host.current.attachShadow({ mode: 'open' });
      const opened = openCodeEditor({
        root,
        text: first,
        format,
        label: t('draft.text'),
        phrases: { Diagnostics: t('check.title'), 'No diagnostics': t('check.ok') },
        onChange: (next) => latest.current.onChange(next),
      });
      opened.mark(latest.current.marks);
      editor.current = opened;
      onReady(opened);
    };
    void open();
    return () => {
      closed = true;
      editor.current?.close();
    };
  }, []);
  useEffect(() => editor.current?.mark(marks), [marks]);
  return <div ref={host} class="code" />;
}

const MOST = 50;

interface CheckListProps {
  checked: Checked;
  onJump(line: number, column: number): void;
}

/** What the check found, as a list with a way to each place. */
function CheckList({ checked: { check, pending, trouble }, onJump }: CheckListProps) {
  const faults = check?.faults ?? [];
  const warnings = check?.warnings ?? [];
  const found = [...faults.map((one) => ({ ...one, bad: true })), ...warnings.map((one) => ({ ...one, bad: false }))];
  const shown = found.slice(0, MOST);
  const more = countOf(check) - shown.length;
  return (
    <div class="stack" aria-busy={pending}>
      <p role="status" class={`notice ${tone(check?.ok, warnings.length)}`}>
        {pending || check === undefined ? t('check.pending') : sentence(check)}
      </p>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <ul class="plain faults">
        {shown.map(({ pointer, detail, place, bad }, index) => (
          <li key={index} data-line={place?.line}>
            {place !== undefined && (
              <button type="button" onClick={() => onJump(place.line, place.column)}>
                {t('check.jump', { line: place.line, column: place.column })}
              </button>
            )}
            <span>
              <strong>{bad ? t('check.fault') : t('check.warning')}</strong> <code>{pointer}</code> {detail}
            </span>
          </li>
        ))}
      </ul>
      {more > 0 && <p>{t('check.more', { count: more })}</p>}
    </div>
  );
}

type Check = NonNullable<Checked['check']>;

/** All that was found, also what the answer does not list. */
function countOf(check: Check | undefined): number {
  if (check === undefined) return 0;
  return check.faults.length + check.moreFaults + check.warnings.length + check.moreWarnings;
}

function sentence({ ok, faults, moreFaults, warnings, moreWarnings }: Check): string {
  const said = ok ? t('check.ok') : t('check.faults', { count: faults.length + moreFaults });
  const count = warnings.length + moreWarnings;
  return `${said} ${count > 0 ? t('check.warnings', { count }) : ''}`;
}

function tone(ok: boolean | undefined, warnings: number): string {
  if (ok === undefined) return '';
  if (!ok) return 'bad';
  return warnings > 0 ? 'look' : 'good';
}

const { t } = text;

interface DraftEditorProps {
  draft: Draft;
  office: OfficeContext;
  onFormat(format: Format): void;
  onPublished(): void;
}

/** The draft as text with the static check beside it; what is typed survives a reload until it is saved. */
export function DraftEditor({ draft, office, onFormat, onPublished }: DraftEditorProps) {
  const { ruleSetId, format } = draft;
  const { saved, setSaved, typed, type, save } = useDraft(draft, office);
  const [stale, setStale] = useState(false);
  const editor = useRef<CodeEditor | undefined>(undefined);
  const checked = useCheck(typed, office.token);
  const marks = useMemo(() => marksOf(checked), [checked.check]);
  const dirty = typed !== saved.text;
  return (
    <>
      <Panel title={t('draft.title')}>
        <Form
          label={t('draft.title')}
          submit={t('draft.save')}
          disabled={!dirty}
          onSend={save}
          onTrouble={(trouble) => setStale(trouble?.status === 412)}
        >
          {!dirty && (
            <Select
              label={t('draft.format')}
              value={format}
              onValue={(value) => onFormat(value as Format)}
              options={[
                ['yaml', t('draft.yaml')],
                ['json', t('draft.json')],
              ]}
            />
          )}
          <p class="soft">{t('draft.keys')}</p>
          <CodeArea
            first={typed}
            format={format}
            marks={marks}
            onChange={type}
            onReady={(opened) => (editor.current = opened)}
          />
          <CheckList checked={checked} onJump={(line, column) => editor.current?.jump(line, column)} />
          {dirty && <p class="notice look">{t('draft.unsaved')}</p>}
        </Form>
        {stale && (
          <DraftConflict
            {...{ ruleSetId, format, office }}
            onKeep={(etag) => {
              setSaved((old) => ({ ...old, etag }));
              setStale(false);
            }}
          />
        )}
      </Panel>
      <Publish
        {...{ ruleSetId, office, dirty, onPublished }}
        etag={saved.etag}
        ok={checked.pending ? undefined : checked.check?.ok}
      />
    </>
  );
}

function marksOf({ check }: Checked): readonly Mark[] {
  const of = (
    severity: Mark['severity'],
    found: readonly { detail: string; place?: { line: number; column: number } }[],
  ) => found.flatMap(({ detail, place }) => (place === undefined ? [] : [{ ...place, severity, message: detail }]));
  return [...of('error', check?.faults ?? []), ...of('warning', check?.warnings ?? [])];
}

interface ConflictProps {
  ruleSetId: string;
  format: Format;
  office: OfficeContext;
  /** the own text is to be saved over what the tag stands for */
  onKeep(etag: string | undefined): void;
}

/** Somebody saved meanwhile: his text to be read, the own one still in the editor. */
function DraftConflict({ ruleSetId, format, office, onKeep }: ConflictProps) {
  const load = useLoad(`conflict ${ruleSetId} ${format}`, () => readDraft(ruleSetId, format, office.token));
  return (
    <div class="notice look stack" role="alert">
      <p>{t('draft.conflict')}</p>
      <Loaded of={load}>
        {({ text: theirs, etag }) => (
          <>
            <details>
              <summary>{t('draft.theirs')}</summary>
              <pre tabIndex={0}>{theirs}</pre>
            </details>
            <div class="row">
              <button type="button" onClick={() => onKeep(etag)}>
                {t('conflict.keep')}
              </button>
            </div>
          </>
        )}
      </Loaded>
    </div>
  );
}

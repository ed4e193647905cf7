import { useMemo, useRef, useState } from 'preact/hooks';
import type { OfficeContext } from '../parts/office-context.ts';
import { Form, Select } from '../parts/form.tsx';
import { Loaded, Panel, TroubleBox } from '../parts/panel.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { CodeArea } from './code-area.tsx';
import type { CodeEditor, Mark } from './code-editor.ts';
import { Publish } from './publish.tsx';
import { type Checked, type Draft, type Format, readDraft, useCheck, useDraft } from './read-draft.ts';

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

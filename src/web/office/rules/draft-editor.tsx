import { useMemo, useRef, useState } from 'preact/hooks';
import type { Desk } from '../parts/desk.ts';
import { Select } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';
import { CheckList } from './check-list.tsx';
import { CodeArea } from './code-area.tsx';
import type { CodeEditor, Mark } from './code-editor.ts';
import { DraftConflict } from './draft-conflict.tsx';
import { Publish } from './publish.tsx';
import type { Draft, Format } from './read-draft.ts';
import { type Checked, useCheck } from './use-check.ts';
import { useDraft } from './use-draft.ts';

const { t } = text;

interface DraftEditorProps {
  draft: Draft;
  desk: Desk;
  onFormat(format: Format): void;
  onPublished(): void;
}

/** The draft as text with the static check beside it; what is typed survives a reload until it is saved. */
export function DraftEditor({ draft, desk, onFormat, onPublished }: DraftEditorProps) {
  const { ruleSetId, format } = draft;
  const { saved, setSaved, typed, type, save } = useDraft(draft, desk);
  const [stale, setStale] = useState(false);
  const editor = useRef<CodeEditor | undefined>(undefined);
  const checked = useCheck(typed, desk.token);
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
            {...{ ruleSetId, format, desk }}
            onKeep={(etag) => {
              setSaved((old) => ({ ...old, etag }));
              setStale(false);
            }}
          />
        )}
      </Panel>
      <Publish
        {...{ ruleSetId, desk, dirty, onPublished }}
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

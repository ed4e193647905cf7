import { useEffect, useRef } from 'preact/hooks';
import { text } from '../text.ts';
import type { CodeEditor, Mark } from './code-editor.ts';
import type { Format } from './read-draft.ts';

const { t } = text;

interface CodeAreaProps {
  /** shown at the start; later changes are made by whoever types, or through `onReady` */
  first: string;
  format: Format;
  marks: readonly Mark[];
  onChange(text: string): void;
  onReady(editor: CodeEditor): unknown;
}

/** A place for the editor, which is loaded only when somebody opens a rule set. */
export function CodeArea({ first, format, marks, onChange, onReady }: CodeAreaProps) {
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

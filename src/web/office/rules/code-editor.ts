import { defaultKeymap, history, historyKeymap } from '@codemirror/commands';
import { json } from '@codemirror/lang-json';
import { yaml } from '@codemirror/lang-yaml';
import { bracketMatching, HighlightStyle, indentOnInput, syntaxHighlighting } from '@codemirror/language';
import { type Diagnostic, lintGutter, nextDiagnostic, setDiagnostics } from '@codemirror/lint';
import { EditorState } from '@codemirror/state';
import { drawSelection, EditorView, highlightActiveLine, keymap, lineNumbers } from '@codemirror/view';
import { tags } from '@lezer/highlight';
import type { Format } from './read-draft.ts';

/** Something to be shown at a place; line and column count from 1, columns in UTF-16 units. */
export interface Mark {
  line: number;
  column: number;
  severity: 'error' | 'warning';
  message: string;
}

export interface CodeEditor {
  mark(marks: readonly Mark[]): void;
  /** puts the cursor to a place and the keyboard into the text */
  jump(line: number, column: number): void;
  setText(text: string): void;
  close(): void;
}

interface EditorOptions {
  /** in a shadow root styles are adopted objects, which a policy without inline styles allows */
  root: ShadowRoot;
  text: string;
  format: Format;
  /** name for screen readers, id of nothing: labels do not reach into a shadow root */
  label: string;
  phrases: Readonly<Record<string, string>>;
  onChange(text: string): void;
}

const colours = HighlightStyle.define([
  { tag: [tags.propertyName, tags.definition(tags.propertyName)], color: 'var(--accent)' },
  { tag: [tags.string, tags.content], color: 'var(--good)' },
  { tag: [tags.number, tags.bool, tags.null], color: 'var(--look)' },
  { tag: tags.comment, color: 'var(--ink-soft)', fontStyle: 'italic' },
]);

const look = EditorView.theme({
  '&': { backgroundColor: 'var(--paper)', color: 'var(--ink)', height: '32rem', maxHeight: '75vh' },
  '&.cm-focused': { outline: '3px solid var(--focus)', outlineOffset: '2px' },
  '.cm-content': { caretColor: 'var(--ink)', fontFamily: 'ui-monospace, monospace' },
  '.cm-cursor': { borderLeftColor: 'var(--ink)', borderLeftWidth: '2px' },
  '.cm-gutters': { backgroundColor: 'var(--panel)', color: 'var(--ink-soft)', borderRight: '1px solid var(--edge)' },
  '.cm-activeLine': { backgroundColor: 'var(--panel)' },
  '&.cm-focused .cm-selectionBackground, .cm-selectionBackground': { backgroundColor: 'var(--look-soft) !important' },
  '.cm-tooltip': { backgroundColor: 'var(--paper)', color: 'var(--ink)', border: '2px solid var(--edge)' },
  '.cm-diagnostic': { padding: '0.5rem', borderLeft: '0.4rem solid var(--bad)' },
  '.cm-scroller': { overflow: 'auto' },
});

/** A browser that types over coloured text writes inline styles into it, which our policy refuses: so we do it ourselves. */
const typeOver = EditorView.domEventHandlers({
  beforeinput(event, view) {
    const { data, inputType, isComposing } = event;
    if (inputType !== 'insertText' || data === null || isComposing || view.state.selection.main.empty) return false;
    event.preventDefault();
    view.dispatch(view.state.replaceSelection(data), { userEvent: 'input.type', scrollIntoView: true });
    return true;
  },
});

/** Opens an editor for a rule set. Tab leaves it, as everywhere; F8 goes to the next fault. */
export function openCodeEditor({ root, text, format, label, phrases, onChange }: EditorOptions): CodeEditor {
  const view = new EditorView({
    root,
    parent: root as unknown as HTMLElement,
    state: EditorState.create({
      doc: text,
      extensions: [
        lineNumbers(),
        lintGutter(),
        history(),
        drawSelection(),
        indentOnInput(),
        bracketMatching(),
        highlightActiveLine(),
        syntaxHighlighting(colours),
        look,
        EditorView.lineWrapping,
        format === 'yaml' ? yaml() : json(),
        EditorState.phrases.of(phrases),
        EditorView.contentAttributes.of({ 'aria-label': label, spellcheck: 'false' }),
        keymap.of([...defaultKeymap, ...historyKeymap, { key: 'F8', run: nextDiagnostic }]),
        typeOver,
        EditorView.updateListener.of((update) => {
          if (update.docChanged) onChange(update.state.doc.toString());
        }),
      ],
    }),
  });
  // Long texts scroll; whoever has no mouse reaches that too.
  view.scrollDOM.tabIndex = 0;
  return {
    mark: (marks) =>
      view.dispatch(
        setDiagnostics(
          view.state,
          marks.map((mark) => diagnosticOf(view.state, mark)),
        ),
      ),
    jump(line, column) {
      const anchor = offsetOf(view.state, line, column);
      view.dispatch({ selection: { anchor }, effects: EditorView.scrollIntoView(anchor, { y: 'center' }) });
      view.focus();
    },
    setText: (next) => view.dispatch({ changes: { from: 0, to: view.state.doc.length, insert: next } }),
    close: () => view.destroy(),
  };
}

function offsetOf(state: EditorState, line: number, column: number): number {
  const at = state.doc.line(Math.min(Math.max(1, line), state.doc.lines));
  return Math.min(at.to, at.from + Math.max(0, column - 1));
}

/** From the place to the end of its line: the server tells where a fault begins. */
function diagnosticOf(state: EditorState, { line, column, severity, message }: Mark): Diagnostic {
  const from = offsetOf(state, line, column);
  return { from, to: Math.max(from, state.doc.lineAt(from).to), severity, message };
}

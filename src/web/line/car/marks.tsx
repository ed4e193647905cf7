import { MARKS, type PlaceEntry } from '../state/worksheet.ts';
import { text } from '../text.ts';

const { t } = text;
const SIGNS = { ok: '✓', 'not-ok': '✗', 'not-applicable': '–' } as const;

/** OK left, not OK right, and small below them what does not apply. A second press takes an answer back. */
export function Marks({ entry, onChange }: { entry: PlaceEntry; onChange(change: PlaceEntry): void }) {
  return (
    <div class="marks">
      {MARKS.map((mark) => (
        <button
          key={mark}
          type="button"
          class={`glove mark ${mark}`}
          aria-pressed={entry.mark === mark}
          onClick={() => onChange({ mark: entry.mark === mark ? undefined : mark })}
        >
          <span aria-hidden="true">{SIGNS[mark]}</span> {t(`mark.${mark}`)}
        </button>
      ))}
    </div>
  );
}

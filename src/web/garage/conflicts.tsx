import { stuckCells } from './kept/answers-count.ts';
import { placeOfCell, placesOf } from './kept/asked.ts';
import { fieldId } from './kept/cells.ts';
import { useGarage } from './context.ts';
import { type Declaration, resolve } from './kept/declaration.ts';
import type { Conflict } from './kept/keep.ts';
import { cellLabel, leafText } from './verdict/say.ts';
import { text } from './text.ts';

const { t } = text;

/** What this device and another one answered differently: both are shown, and a person chooses. */
export function Conflicts() {
  const { declaration, sync } = useGarage();
  const conflicts = declaration.conflicts.value;
  if (conflicts.length === 0) return null;
  const decide = (conflict: Conflict, side: 'mine' | 'theirs'): void => {
    resolve(declaration, conflict, side);
    if (declaration.conflicts.value.length === 0) void sync.now();
  };
  return (
    <section class="notice look stack" aria-labelledby="conflicts">
      <h2 id="conflicts" tabIndex={-1}>
        {t('conflict.title', { count: conflicts.length })}
      </h2>
      <p>{t('conflict.says')}</p>
      <ul class="stack plain">
        {conflicts.map((conflict) => (
          <li key={conflict.cell} class="panel stack">
            <strong>{cellLabel(declaration.items.value, conflict.cell)}</strong>
            <div class="row">
              <button type="button" onClick={() => decide(conflict, 'mine')}>
                {t('conflict.mine', { value: said(declaration, conflict, 'mine') })}
              </button>
              <button type="button" onClick={() => decide(conflict, 'theirs')}>
                {t('conflict.theirs', { value: said(declaration, conflict, 'theirs') })}
              </button>
            </div>
          </li>
        ))}
      </ul>
    </section>
  );
}

function said(declaration: Declaration, conflict: Conflict, side: 'mine' | 'theirs'): string {
  const place = declaration.items.value.flatMap(placesOf).find(({ cell }) => cell === conflict.cell);
  if (place === undefined) return t('answer.none');
  // What is here may have been typed anew since the conflict was found.
  return leafText(place.type, side === 'mine' ? declaration.cells.value[conflict.cell] : conflict.theirs);
}

/** What another device changed and this one took over. */
export function Taken() {
  const { declaration } = useGarage();
  const taken = declaration.taken.value;
  if (taken.length === 0) return null;
  const labels = taken.slice(0, 5).map((cell) => cellLabel(declaration.items.value, cell));
  return (
    <div class="notice row spread" role="status">
      <span>
        {t('taken', { count: taken.length, list: labels.join('; ') })}
        {taken.length > labels.length && ' …'}
      </span>
      <button
        type="button"
        onClick={() => {
          declaration.taken.value = [];
        }}
      >
        {t('taken.seen')}
      </button>
    </div>
  );
}

/** What cannot be sent as it is, each with a link to its field. */
export function StuckList() {
  const { declaration, go } = useGarage();
  const cells = stuckCells(declaration);
  if (cells.length === 0) return null;
  const areaOf = (cell: string): string =>
    declaration.items.value.find(({ key }) => key === placeOfCell(cell).key)?.area ?? '';
  const why = (cell: string): string => {
    if (declaration.unread.value[cell] !== undefined) return t('fault.not-a-number');
    if (declaration.faults.value[cell] !== undefined) return t('fault.refused');
    return declaration.doubted.value.includes(cell) ? t('doubt.stuck') : t('fault.half');
  };
  return (
    <section class="notice bad" aria-labelledby="stuck">
      <h2 id="stuck" tabIndex={-1}>
        {t('stuck.title', { count: cells.length })}
      </h2>
      <ul>
        {cells.map((cell) => (
          <li key={cell}>
            <a
              href={`#${fieldId(cell)}`}
              onClick={(event) => {
                event.preventDefault();
                go({ name: 'area', area: areaOf(cell) }, fieldId(cell));
              }}
            >
              {cellLabel(declaration.items.value, cell)}: {why(cell)}
            </a>
          </li>
        ))}
      </ul>
    </section>
  );
}

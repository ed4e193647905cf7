import type { FormItem } from './asked.ts';
import { placesOf } from './asked.ts';
import { type Cells, cellsOfAnswer } from './cells.ts';
import { useGarage } from './context.ts';
import { setCells } from './desk.ts';
import { leafText, positionName } from './say.ts';
import { text } from './text.ts';

const { t } = text;

/** The answers of last time for places that have none yet. */
export function offeredCells(item: FormItem, cells: Cells): Cells {
  if (item.earlier === undefined) return {};
  const asked = new Set(placesOf(item).map(({ cell }) => cell));
  const earlier = Object.entries(cellsOfAnswer(item, item.earlier.answer));
  return Object.fromEntries(earlier.filter(([cell]) => asked.has(cell) && cells[cell] === undefined));
}

/** What was answered last time, to be taken over with one tap; never by itself. */
export function ItemEarlier({ item }: { item: FormItem }) {
  const { desk, sync } = useGarage();
  const offered = offeredCells(item, desk.cells.value);
  const places = placesOf(item).filter(({ cell }) => offered[cell] !== undefined);
  if (places.length === 0 || !desk.open.value) return null;
  const said = places.map(({ cell, type, position, part }) => {
    const value = leafText(type, offered[cell]);
    const where = [position === undefined ? undefined : positionName(position), part?.label].filter(Boolean);
    return where.length === 0 ? value : `${where.join(', ')} ${value}`;
  });
  const isLong = said.length > 4;
  return (
    <div class="earlier row">
      {isLong ? (
        <details>
          <summary>{t('earlier.many', { count: said.length })}</summary>
          {said.join('; ')}
        </details>
      ) : (
        <span>{t('earlier.is', { value: said.join('; ') })}</span>
      )}
      <button
        type="button"
        onClick={() => {
          setCells(desk, offered);
          sync.typed();
        }}
      >
        {t('earlier.take')} <span class="unseen">{item.label}</span>
      </button>
    </div>
  );
}

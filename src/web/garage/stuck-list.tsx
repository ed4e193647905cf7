import { stuckCells } from './answers-count.ts';
import { placeOfCell } from './asked.ts';
import { useGarage } from './context.ts';
import { fieldId } from './field-id.ts';
import { cellLabel } from './say.ts';
import { text } from './text.ts';

const { t } = text;

/** What cannot be sent as it is, each with a link to its field. */
export function StuckList() {
  const { desk, go } = useGarage();
  const cells = stuckCells(desk);
  if (cells.length === 0) return null;
  const areaOf = (cell: string): string =>
    desk.items.value.find(({ key }) => key === placeOfCell(cell).key)?.area ?? '';
  const why = (cell: string): string => {
    if (desk.unread.value[cell] !== undefined) return t('fault.not-a-number');
    return desk.faults.value[cell] === undefined ? t('fault.half') : t('fault.refused');
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
              {cellLabel(desk.items.value, cell)}: {why(cell)}
            </a>
          </li>
        ))}
      </ul>
    </section>
  );
}

import { type Wheel, WHEELS } from '../../../domain/catalogue/item.ts';
import { type FormItem, everyPlace } from '../kept/asked.ts';
import { type Cells, cellsOfAnswer } from '../kept/cells.ts';
import { cornerName, leafText, limitsOf } from './say.ts';
import { text } from './text.ts';

const { t } = text;

const AXLES: Readonly<Record<Wheel, string>> = { FL: 'front', FR: 'front', RL: 'rear', RR: 'rear' };

/** Whether a place is at this wheel, at its axle, or at every wheel at once: what is said most narrowly counts. */
const NARROWER: readonly ((position: string | undefined, wheel: Wheel) => boolean)[] = [
  (position, wheel) => position?.split('.')[0] === wheel,
  (position, wheel) => position === AXLES[wheel],
  (position) => position === '*',
];

/** What is asked at the wheels. */
export const isAtWheels = ({ positions = [] }: FormItem): boolean =>
  WHEELS.some((wheel) => positions.some((position) => position.split('.')[0] === wheel));

/** What was said of one wheel: each part once, with its name where there are several. */
function saidAt(item: FormItem, cells: Cells, wheel: Wheel): string {
  const given = everyPlace(item).filter(({ cell }) => cells[cell] !== undefined);
  const own = NARROWER.map((isAt) => given.filter(({ position }) => isAt(position, wheel)));
  const said = (own.find((places) => places.length > 0) ?? []).map(
    ({ cell, type, part }) => `${part === undefined ? '' : `${part.label} `}${leafText(type, cells[cell])}`,
  );
  return [...new Set(said)].join(' / ');
}

/** The four wheels beside each other, each with what was declared and room for what the line measures; below it the limit. */
export function WheelGrid({
  items,
  answers,
}: {
  items: readonly FormItem[];
  answers: Readonly<Record<string, unknown>>;
}) {
  if (items.length === 0) return null;
  return (
    <table class="wheel-grid">
      <caption>{t('sheet.wheels')}</caption>
      <thead>
        <tr>
          <th scope="col">{t('sheet.item')}</th>
          {WHEELS.map((wheel) => (
            <th key={wheel} scope="col">
              {cornerName(wheel)}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {items.map((item) => {
          const cells = cellsOfAnswer(item, answers[item.key]);
          return (
            <tr key={item.key}>
              <th scope="row">
                {item.label}
                <span class="sheet-limit">{limitsOf(item)}</span>
              </th>
              {WHEELS.map((wheel) => (
                <td key={wheel}>{saidAt(item, cells, wheel)}</td>
              ))}
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

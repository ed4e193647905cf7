import type { ShopCar } from '../api/operations.ts';
import { useGarage } from '../garage/context.ts';
import { limitText, dateText } from '../garage/verdict/say.ts';
import { partName, partText } from './cars.tsx';
import type { ShopWork } from './shop-sync.ts';
import { text } from './text.ts';
import { linesOf, torqueText, weightText, whereText } from './work.tsx';

const { t } = text;

/** The work order on paper: what, where, which part, room for the new value, and who did it. */
export function Sheet({ car, work }: { car: ShopCar; work: ShopWork }) {
  const { declaration } = useGarage();
  const lines = linesOf({ declaration });
  return (
    <section class="sheet" aria-hidden="true">
      <header>
        <p class="sheet-number">{car.carNumber}</p>
        <div>
          <p class="sheet-title">{t('sheet.title', { number: car.carNumber })}</p>
          <p>
            {car.description}
            {car.colour !== undefined && ` · ${car.colour}`}
          </p>
          <p>{t('sheet.for', { owner: car.owner, event: car.event.name, day: dateText(car.event.startsOn) })}</p>
          {car.parts.length > 0 && (
            <p>{t('car.order', { day: dateText(car.orderBy), parts: car.parts.map(partText).join('; ') })}</p>
          )}
        </div>
      </header>
      {lines.length === 0 ? (
        <p>{t('work.none')}</p>
      ) : (
        <table>
          <tbody>
            {lines.map((line) => (
              <tr key={`${line.ruleId} ${line.message}`}>
                <td>
                  <strong>
                    {line.title}
                    {whereText(line)}
                  </strong>{' '}
                  · {weightText(line)}. {line.message} {line.fix}
                  {line.limit !== undefined &&
                    ` ${t('work.asked', { limit: limitText({ limit: line.limit }) ?? '' })}.`}
                  {line.part !== undefined && ` ${t('work.part', { part: partName(line.part) })}.`}
                </td>
                <td>{t('sheet.value')}:</td>
                <td>☐ {t('sheet.done')}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <p class="sheet-heading">{t('torque.title')}</p>
      <p>
        {torqueText(work)} {t('torque.others')}
      </p>
      <p>{t('sheet.caution')}</p>
      <p class="sheet-foot">{t('sheet.by')}</p>
    </section>
  );
}

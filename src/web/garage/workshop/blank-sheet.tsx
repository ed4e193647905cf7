import { useGarage } from '../context.ts';
import { type FormItem, positionsOf, typeOf } from '../kept/asked.ts';
import type { FormView } from '../kept/form.ts';
import type { ShownScreen } from '../screens/plan.ts';
import { screenTitle } from '../screens/screen.tsx';
import { dateText, limitsOf, optionText, positionName } from '../verdict/say.ts';
import { signOf } from '../session/written.tsx';
import type { SimpleAnswerType } from '../../../domain/catalogue/item.ts';
import { text } from './text.ts';

const { t } = text;

/** The sheet on paper: every question that needs the car off the ground, with its limit and room to write. */
export function BlankSheet({ form, screens }: { form: FormView; screens: readonly ShownScreen[] }) {
  const { declaration } = useGarage();
  const car = declaration.entry.value?.vehicle;
  const about = [car?.['description'], car?.['colour']].filter((part) => typeof part === 'string').join(' · ');
  const cautions = [...new Set(screens.flatMap(({ asked }) => asked.flatMap((item) => item.cautions)))];
  return (
    <section class="sheet" aria-hidden="true">
      <header>
        <p class="sheet-number">{form.carNumber}</p>
        <div>
          <p class="sheet-title">{t('sheet.title', { number: form.carNumber })}</p>
          <p>{about}</p>
          <p>{t('sheet.for', { event: form.event.name, day: dateText(form.event.startsOn), group: form.runGroup })}</p>
        </div>
      </header>
      <p>{t('sheet.caution')}</p>
      <p>{screens.length === 0 ? t('sheet.nothing') : t('sheet.how')}</p>
      {screens.map(({ id, asked }) => (
        <table key={id}>
          <caption>{screenTitle(form, id)}</caption>
          <tbody>
            {asked.map((item) => (
              <Row key={item.key} item={item} />
            ))}
          </tbody>
        </table>
      ))}
      <ul>
        {cautions.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
      <p class="sheet-heading">{t('sheet.remarks')}</p>
      <p class="sheet-foot">{t('sheet.by')}</p>
    </section>
  );
}

function Row({ item }: { item: FormItem }) {
  return (
    <tr>
      <td>
        <strong>{item.label}</strong>
        <span class="sheet-limit">{limitsOf(item)}</span>
      </td>
      <td>
        {positionsOf(item).map((position) => (
          <p key={position ?? ''} class="sheet-blank">
            {position !== undefined && `${positionName(position)}: `}
            {blankOf(item)}
          </p>
        ))}
      </td>
    </tr>
  );
}

/** Room for an answer: boxes to tick for what is chosen, a line and the unit for what is measured. */
function blankOf(item: FormItem): string {
  const type = typeOf(item);
  if (type.kind !== 'fields') return blank(type);
  return Object.values(type.fields)
    .map(({ label, type: of }) => `${label} ${blank(of)}`)
    .join('   ');
}

function blank(type: SimpleAnswerType): string {
  if (type.kind === 'choice' || type.kind === 'choices') {
    return type.options.map((option) => `☐ ${optionText(type, option)}`).join('  ');
  }
  if (type.kind === 'number') return `________ ${type.unit === '1' ? '' : signOf(type.unit)}`.trim();
  if (type.kind === 'yes-no') return `☐ ${t('sheet.yes')}  ☐ ${t('sheet.no')}`;
  if (type.kind === 'confirm') return `☐ ${t('sheet.good')}  ☐ ${t('sheet.bad')}`;
  return '________________';
}

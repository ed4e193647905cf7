import type { Finding, InspectionView } from '../../api/operations.ts';
import type { FormView } from '../kept/form.ts';
import { saysText } from '../../shared/says.ts';
import { words } from '../../shared/text.ts';
import { fixesOf, fixOf, type FormItem, isAbout, placesAt, placesOf, positionsOf } from '../kept/asked.ts';
import { cellsOfAnswer } from '../kept/cells.ts';
import { useGarage } from '../context.ts';
import { dateText, decimalsOfItem, leafText, limitText, positionName, timeText } from './say.ts';
import { text as page } from '../text.ts';
import { text } from './text.ts';
import { isAtWheels, WheelGrid } from './wheel-grid.tsx';

const { t } = text;

/** The sheet for the line, on paper only: A4, black and white. */
export function Sheet({ form, inspection }: { form: FormView; inspection: InspectionView }) {
  const { declaration } = useGarage();
  const items = form.items.filter(({ key }) => inspection.answers[key] !== undefined);
  const others = items.filter((item) => !isAtWheels(item));
  const cautions = [...new Set(fixItems(inspection.findings, form.items).flatMap((item) => item.cautions))];
  return (
    <section class="sheet" aria-hidden="true">
      <header>
        <p class="sheet-number">{inspection.carNumber}</p>
        <div>
          <p class="sheet-title">{form.event.name}</p>
          <p>
            <bdi>{form.runGroup}</bdi> · <bdi>{declaration.entry.value?.entrant.name}</bdi>
          </p>
          <p>
            {t(`verdict.${inspection.verdict}`)} ·{' '}
            {t('verdict.revision', {
              revision: inspection.revision,
              at: timeText(inspection.submittedAt, form.event.timeZone),
            })}
          </p>
          <p>
            {t('sheet.rules', { version: inspection.ruleSetVersion, hash: inspection.rulesHash?.slice(0, 12) ?? '–' })}
          </p>
        </div>
      </header>
      <Points findings={inspection.findings} />
      <p class="sheet-heading">{t('sheet.bring')}</p>
      <ul>
        {(['papers', 'helmet', 'tools', 'open'] as const).map((what) => (
          <li key={what}>{t(`sheet.bring.${what}`)}</li>
        ))}
      </ul>
      <WheelGrid items={items.filter(isAtWheels)} answers={inspection.answers} />
      <Declared items={others.filter(hasValue)} inspection={inspection} />
      <Looked items={others.filter((item) => !hasValue(item))} inspection={inspection} />
      <p class="sheet-heading">{page.t('cautions.title')}</p>
      <ul>
        <li>{inspection.caution}</li>
        {cautions.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
      <p class="sheet-foot">
        {t('sheet.foot', {
          number: inspection.carNumber,
          id: inspection.inspectionId,
          date: dateText(form.event.startsOn),
        })}{' '}
        {words.t('app.name')}
      </p>
    </section>
  );
}

const fixItems = (findings: readonly Finding[], items: readonly FormItem[]): FormItem[] => {
  const keys = new Set(fixesOf(findings).flatMap(({ worst }) => worst.items));
  return items.filter(({ key }) => keys.has(key));
};

/** What is open, with a box to tick. */
function Points({ findings }: { findings: readonly Finding[] }) {
  const fixes = fixesOf(findings);
  if (fixes.length === 0) return <p>{t('sheet.nothing-open')}</p>;
  return (
    <>
      <p class="sheet-heading">{t('sheet.open')}</p>
      <ul class="sheet-points">
        {fixes.map(({ worst, findings: all }) => (
          <li key={`${worst.ruleId} ${worst.message}`}>
            ☐ <strong>{page.t(`counts.${worst.counts}`)}:</strong> {worst.title}
            {worst.position !== undefined && ` (${all.map(({ position }) => positionName(position ?? '')).join('; ')})`}
            . {worst.message} {fixOf(worst)}
          </li>
        ))}
      </ul>
    </>
  );
}

/** What was declared, with the limit beside it and room for what the line measures. */
function Declared({ items, inspection }: { items: readonly FormItem[]; inspection: InspectionView }) {
  return (
    <table>
      <caption>{t('sheet.declared')}</caption>
      <thead>
        <tr>
          <th scope="col">{t('sheet.item')}</th>
          <th scope="col">{t('sheet.answer')}</th>
          <th scope="col">{t('sheet.limit')}</th>
          <th scope="col">{t('sheet.line')}</th>
        </tr>
      </thead>
      <tbody>
        {items.map((item) => (
          <tr key={item.key}>
            <td>{item.label}</td>
            <td>{answerText(item, inspection.answers[item.key])}</td>
            <td>{limitsOf(item, inspection.findings)}</td>
            <td />
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** What is measured or written down, in contrast to what is looked at. */
function hasValue(item: FormItem): boolean {
  return placesOf(item).some(({ type: { kind } }) => kind === 'number' || kind === 'date' || kind === 'text');
}

/** The limits of the rules about this item that can stop the car, each as its sentence, else what its number is held against. */
function limitsOf(item: FormItem, findings: readonly Finding[]): string {
  const own = findings.filter((finding) => isAbout(finding, item.key) && finding.effect !== 'advise');
  const said = own.flatMap((finding) => {
    const rule = item.rules.find(
      ({ ruleId, position, says }) => ruleId === finding.ruleId && position === finding.position && says !== undefined,
    );
    if (rule?.says !== undefined && rule.says.open !== true) return [saysText(rule.says)];
    if (finding.bounds === undefined) return [];
    // With the title: a limit may be on something that follows from the answer, as its age.
    return [`${finding.title}: ${limitText(finding, decimalsOfItem(item)) ?? ''}`];
  });
  return [...new Set(said)].join(' ');
}

/** What was looked at, in one paragraph. */
function Looked({ items, inspection }: { items: readonly FormItem[]; inspection: InspectionView }) {
  return (
    <>
      <p class="sheet-heading">{t('sheet.looked')}</p>
      <p>
        {items.map((item) => (
          <span key={item.key}>
            {item.label}: <strong>{answerText(item, inspection.answers[item.key])}</strong>.{' '}
          </span>
        ))}
      </p>
    </>
  );
}

/** The answer to an item on paper; the same at all places is said once. */
function answerText(item: FormItem, raw: unknown): string {
  const cells = cellsOfAnswer(item, raw);
  const said = positionsOf(item).flatMap((position) => {
    const parts = placesAt(item, position)
      .filter(({ cell }) => cells[cell] !== undefined)
      .map(({ cell, type, part }) => `${part === undefined ? '' : `${part.label} `}${leafText(type, cells[cell])}`);
    return parts.length === 0 ? [] : [{ position, text: parts.join(', ') }];
  });
  const [first, ...others] = said;
  if (first !== undefined && others.every(({ text: other }) => other === first.text)) {
    return others.length === 0 ? first.text : t('sheet.everywhere', { value: first.text });
  }
  return said.map(({ position, text: one }) => `${position ?? ''} ${one}`.trim()).join('; ');
}

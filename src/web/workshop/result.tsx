import type { JSX } from 'preact';
import { currentLanguage, words } from '../shared/text.ts';
import { showNumber } from '../shared/units.ts';
import type { Asked } from './ask.ts';
import { Chart } from './chart.tsx';
import { type Field, formOf, labelOf, optionText } from './forms.ts';
import { plotsOf } from './plots.ts';
import { RollPicture } from './roll-picture.tsx';
import { text, unitText } from './text.ts';

const { t } = text;

/** What the server answers to a computation. */
export interface Worked {
  name: string;
  result: Record<string, unknown>;
  steps: readonly { what: string; formula: string; numbers: string; result: string }[];
  assumptions: readonly { name: string; value: string; standing: string }[];
  cautions: readonly string[];
  sources: readonly { title: string; standing: string }[];
  caution: string;
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** A single value in words. */
export function valueText(field: Field, value: unknown): string {
  if (value === undefined || value === null) return t('not-known');
  if (typeof value === 'boolean') return value ? t('yes') : t('no');
  if (typeof value === 'number') {
    const number = showNumber(value, currentLanguage());
    return field.unit === undefined ? number : `${number} ${unitText(field.unit)}`;
  }
  if (Array.isArray(value)) return value.map((one) => valueText(field, one)).join(', ');
  return typeof value === 'string' ? optionText(value) : '';
}

const isBand = ({ fields = [] }: Field): boolean =>
  fields.length === 3 && fields.every(({ key }) => ['low', 'middle', 'high'].includes(key));

/** Lists of rows are tables where each row is of single values and bands. */
const isFlat = (field: Field): boolean =>
  (field.fields ?? []).every((one) => !['list', 'group', 'either'].includes(one.kind) || isBand(one));

function bandText(field: Field, value: Record<string, unknown>): string {
  const unit = field.fields?.find(({ unit: one }) => one !== undefined)?.unit ?? '';
  const show = (key: string): string => showNumber(Number(value[key]), currentLanguage());
  return t('band', { middle: show('middle'), low: show('low'), high: show('high'), unit });
}

/** A result, place by place, under the names of the page's language. */
export function Rows({ fields, value }: { fields: readonly Field[]; value: Record<string, unknown> }): JSX.Element {
  const single = fields.filter((field) => !isNested(field) && value[field.key] !== undefined);
  const nested = fields.filter(
    (field) => isNested(field) && value[field.key] !== undefined && value[field.key] !== null,
  );
  return (
    <>
      {single.length > 0 && (
        <dl class="values">
          {single.map((field) => (
            <div key={field.key}>
              <dt>{labelOf(field)}</dt>
              <dd>{shownValue(field, value[field.key])}</dd>
            </div>
          ))}
        </dl>
      )}
      {nested.map((field) => (
        <section class="nested" key={field.key}>
          <p>
            <strong>{labelOf(field)}</strong>
          </p>
          <Nested field={field} value={value[field.key]} />
        </section>
      ))}
    </>
  );
}

const shownValue = (field: Field, value: unknown): string =>
  isBand(field) && isObject(value) ? bandText(field, value) : valueText(itemOf(field), value);

const itemOf = (field: Field): Field => (field.kind === 'list' ? { ...field.fields?.[0], ...without(field) } : field);
const without = ({ key, unit }: Field): Field => ({ key, kind: 'text', ...(unit !== undefined && { unit }) });

function isNested(field: Field): boolean {
  if (field.kind === 'group') return !isBand(field);
  return field.kind === 'list' && (field.fields?.[0]?.fields ?? []).length > 0;
}

function Nested({ field, value }: { field: Field; value: unknown }): JSX.Element | null {
  if (isObject(value)) return <Rows fields={field.fields ?? []} value={value} />;
  const [item] = field.fields ?? [];
  if (!Array.isArray(value) || item === undefined) return null;
  const rows = value.filter(isObject);
  if (!isFlat(item)) {
    return (
      <>
        {rows.map((row, index) => (
          // results have no ids: their order is what they are known by
          <div class="nested" key={index}>
            <Rows fields={item.fields ?? []} value={row} />
          </div>
        ))}
      </>
    );
  }
  const shown = (item.fields ?? []).filter(({ key }) =>
    rows.some((row) => row[key] !== undefined && row[key] !== null),
  );
  return (
    <div class="wide" tabIndex={0} role="region" aria-label={labelOf(field)}>
      <table>
        <thead>
          <tr>
            {shown.map((column) => (
              <th key={column.key} scope="col">
                {labelOf(column)}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row, index) => (
            <tr key={index}>
              {shown.map((column) => (
                <td key={column.key}>{row[column.key] === undefined ? '' : shownValue(column, row[column.key])}</td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** What somebody came for, where it is not what stands first. */
const FIRST: Readonly<Record<string, readonly string[]>> = {
  'brake-margin': ['keepsMinutes', 'fluidUsedInLap', 'boilingPointC'],
  'tyre-age': ['ageMonths', 'standing'],
  'tyre-rating': ['loadOk', 'speedOk'],
  'fluid-class': ['enough', 'boilsAtC'],
  'treadwear-grade': ['grade', 'meetsMinimum'],
  'oil-level': ['says', 'litresToUpperMark'],
  coolant: ['boilingC', 'marginC', 'freezingC'],
  'label-validity': ['lastDay'],
  'play-diagnosis': ['text', 'parts'],
  'steering-play': ['within', 'limitMm'],
  'corner-weights': ['crossPercent', 'changePerWheelKg'],
  'fastener-torque': ['torqueNm', 'preloadN', 'againstProof'],
  'sound-level': ['levelAtReferenceDb', 'verdict'],
  'roll-clearance': ['enough', 'clearanceMm'],
  'hv-isolation': ['isolated', 'ohmPerVolt'],
  'line-staffing': ['meanWaitMinutes', 'enough'],
};

function Headline({ name, fields, result }: { name: string; fields: readonly Field[]; result: Worked['result'] }) {
  const wanted = FIRST[name];
  const single = fields.filter(
    (field) => !isNested(field) && result[field.key] !== undefined && result[field.key] !== null,
  );
  const chosen = wanted === undefined ? single.slice(0, 3) : single.filter(({ key }) => wanted.includes(key));
  if (chosen.length === 0) return null;
  return (
    <dl class="headline">
      {chosen.map((field) => (
        <div key={field.key}>
          <dt>{labelOf(field)}</dt>
          <dd>{shownValue(field, result[field.key])}</dd>
        </div>
      ))}
    </dl>
  );
}

/** A result with everything a reader needs to trust it or not. What the server says in sentences is in English. */
export function ResultView({ worked, body }: { worked: Worked; body: unknown }): JSX.Element | null {
  const form = formOf(worked.name);
  if (form === undefined) return null;
  const plots = plotsOf(worked.name, body, worked.result);
  return (
    <div class="stack result">
      <Headline name={worked.name} fields={form.result} result={worked.result} />
      {worked.name === 'roll-clearance' && <RollPicture body={body} result={worked.result} />}
      {plots.length > 0 && (
        <div class="charts">
          {plots.map((spec) => (
            <Chart key={spec.title} spec={spec} />
          ))}
        </div>
      )}
      {worked.cautions.length > 0 && (
        <div class="notice look">
          <p>
            <strong>{t('cautions')}</strong>
          </p>
          <ul lang="en">
            {worked.cautions.map((caution) => (
              <li key={caution}>{caution}</li>
            ))}
          </ul>
        </div>
      )}
      <details>
        <summary>{t('all-numbers')}</summary>
        <Rows fields={form.result} value={worked.result} />
      </details>
      <Working worked={worked} />
    </div>
  );
}

function Working({ worked: { steps, assumptions, sources } }: { worked: Worked }): JSX.Element {
  return (
    <>
      <details>
        <summary>{t('steps', { count: steps.length })}</summary>
        {currentLanguage() !== 'en' && <p class="soft">{t('in-english')}</p>}
        <ol class="steps" lang="en">
          {steps.map((step, index) => (
            <li key={index}>
              <strong>{step.what}</strong>
              <br />
              <code>{step.formula}</code>
              <br />
              <code>{step.numbers}</code>
              <br />= {step.result}
            </li>
          ))}
        </ol>
      </details>
      <details>
        <summary>{t('assumed', { count: assumptions.length })}</summary>
        <ul>
          {assumptions.map(({ name, value, standing }) => (
            <li key={`${name} ${value}`}>
              <span lang="en">
                {name}: {value}
              </span>{' '}
              <span class="soft">({optionText(standing)})</span>
            </li>
          ))}
        </ul>
      </details>
      <details>
        <summary>{t('sources')}</summary>
        <ul>
          {sources.map(({ title, standing }) => (
            <li key={title}>
              <span lang="en">{title}</span> <span class="soft">({optionText(standing)})</span>
            </li>
          ))}
        </ul>
      </details>
    </>
  );
}

/** Why there is no result. */
export function NotWorked({ asked }: { asked: Exclude<Asked, { kind: 'worked' }> }): JSX.Element {
  if (asked.kind === 'no-network') return <p class="notice bad">{words.t('network.none')}</p>;
  return (
    <p class="notice bad">
      {t('refused')} <span lang="en">{asked.says}</span>
    </p>
  );
}

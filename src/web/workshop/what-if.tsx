import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { roundTo } from '../../domain/quantity.ts';
import { currentLanguage } from '../shared/text.ts';
import { showNumber } from '../shared/units.ts';
import { ask, type Asked } from './ask.ts';
import { Chart } from './chart.tsx';
import { FieldView } from './fields.tsx';
import { type Field, formOf, labelOf } from './forms.ts';
import { plotsOf } from './plots.ts';
import { NotWorked, valueText } from './result.tsx';
import { text, unitText } from './text.ts';
import { bodyOf, type Draft, type Drafts, type Faults, isEmpty } from './values.ts';

const { t } = text;

type Path = readonly string[];

/** A single place of a form, with the names of what it is in. */
interface Place {
  path: Path;
  field: Field;
  name: string;
}

/** Places that one could set otherwise: those of the form, and of rows that are there. */
function placesIn(fields: readonly Field[], drafts: Drafts, path: Path = [], within: Path = []): Place[] {
  return fields.flatMap((field): Place[] => {
    const here = [...path, field.key];
    const names = [...within, labelOf(field)];
    const draft = drafts[field.key];
    if (field.kind === 'group') return placesIn(field.fields ?? [], (draft ?? {}) as Drafts, here, names);
    const [item] = field.fields ?? [];
    if (field.kind === 'list' && Array.isArray(draft) && item?.kind === 'group') {
      return draft.flatMap((row, index) =>
        placesIn(
          item.fields ?? [],
          row as Drafts,
          [...here, String(index)],
          [...within, t('row', { number: index + 1 })],
        ),
      );
    }
    return ['list', 'either'].includes(field.kind) ? [] : [{ path: here, field, name: names.join(' · ') }];
  });
}

/** The drafts with one place set otherwise. */
export function withPlace(drafts: Draft | undefined, [key = '', ...rest]: Path, value: Draft): Draft {
  if (Array.isArray(drafts)) return drafts.map((one, i) => (String(i) === key ? withPlace(one, rest, value) : one));
  const group = (drafts ?? {}) as Drafts;
  return { ...group, [key]: rest.length === 0 ? value : withPlace(group[key], rest, value) };
}

const draftAt = (drafts: Draft | undefined, [key, ...rest]: Path): Draft | undefined =>
  key === undefined || drafts === undefined ? drafts : draftAt((drafts as Drafts)[key], rest);

/** Lists that are longer are for plots: the laps of a session, say. */
const MOST_ROWS = 8;

interface Single {
  name: string;
  field: Field;
  value: unknown;
}

/** Single values of a result with their names, those of short lists among them. */
function singlesOf(fields: readonly Field[], value: Record<string, unknown>, within: Path = []): Single[] {
  return fields.flatMap((field): Single[] => {
    const one = value[field.key];
    const names = [...within, labelOf(field)];
    const inside = (parts: readonly Field[], part: unknown, of: Path): Single[] =>
      singlesOf(parts, (part ?? {}) as Record<string, unknown>, of);
    if (field.kind === 'group') return inside(field.fields ?? [], one, names);
    const [item] = field.fields ?? [];
    if (field.kind !== 'list' || item?.fields === undefined) return [{ name: names.join(' · '), field, value: one }];
    if (!Array.isArray(one) || one.length > MOST_ROWS) return [];
    return one.flatMap((row, index) => inside(item.fields ?? [], row, [...names, t('row', { number: index + 1 })]));
  });
}

/** The same place stands in the form above too: here it has another id. */
const BESIDE = '/what-if';
const beside = <T,>(wrong: Readonly<Record<string, T>>): Record<string, T> =>
  Object.fromEntries(Object.entries(wrong).map(([at, says]) => [`${BESIDE}${at}`, says]));

interface Props {
  name: string;
  drafts: Drafts;
  asked: Extract<Asked, { kind: 'worked' }>;
  token: string;
}

/** The same once more with one value otherwise, both side by side. */
export function WhatIf({ name, drafts, asked, token }: Props): JSX.Element | null {
  const form = formOf(name);
  const [chosen, setChosen] = useState('');
  const [value, setValue] = useState<Draft>('');
  const [faults, setFaults] = useState<Faults>({});
  const [other, setOther] = useState<Asked | undefined>(undefined);
  if (form === undefined) return null;
  const places = placesIn(form.form, drafts);
  const place = places.find(({ path }) => path.join('/') === chosen);
  const choose = (next: string): void => {
    setChosen(next);
    setOther(undefined);
    setFaults({});
    const found = places.find(({ path }) => path.join('/') === next);
    setValue((found && draftAt(drafts, found.path)) ?? '');
  };
  const work = async (): Promise<void> => {
    if (place === undefined) return;
    const read = bodyOf(form.form, withPlace(drafts, place.path, value) as Drafts);
    setFaults(read.ok ? {} : read.faults);
    setOther(read.ok ? await ask(name, read.body, token) : undefined);
  };
  return (
    <section class="panel stack no-print" aria-labelledby="what-if">
      <h3 id="what-if">{t('what-if')}</h3>
      <p>{t('what-if.says')}</p>
      <form
        class="stack"
        noValidate
        onSubmit={(event) => {
          event.preventDefault();
          void work();
        }}
      >
        <Places places={places} chosen={chosen} choose={choose} />
        {place !== undefined && (
          <>
            <FieldView
              key={chosen}
              field={{ ...place.field, what: t('what-if.value') }}
              draft={value}
              at={`${BESIDE}/${chosen}`}
              wrong={{ faults: beside(faults), refused: beside(other?.kind === 'refused' ? other.refused : {}) }}
              change={setValue}
            />
            <button type="submit" class="primary" disabled={isEmpty(value)}>
              {t('what-if.go')}
            </button>
          </>
        )}
      </form>
      <div role="status">
        {other !== undefined && other.kind !== 'worked' && <NotWorked asked={other} />}
        {other?.kind === 'worked' && place !== undefined && (
          <Both name={name} fields={form.result} now={asked} other={other} changed={place.name} />
        )}
      </div>
    </section>
  );
}

interface PlacesProps {
  places: readonly Place[];
  chosen: string;
  choose(next: string): void;
}

function Places({ places, chosen, choose }: PlacesProps): JSX.Element {
  return (
    <div class="field">
      <label for="what-if-place">{t('what-if.place')}</label>
      <select id="what-if-place" value={chosen} onChange={(event) => choose(event.currentTarget.value)}>
        <option value="">{t('choose')}</option>
        {places.map((one) => (
          <option key={one.path.join('/')} value={one.path.join('/')}>
            {one.name}
          </option>
        ))}
      </select>
    </div>
  );
}

interface BothProps {
  name: string;
  fields: readonly Field[];
  now: Props['asked'];
  other: Props['asked'];
  changed: string;
}

function Both({ name, fields, now, other, changed }: BothProps): JSX.Element {
  const before = singlesOf(fields, now.worked.result);
  const after = singlesOf(fields, other.worked.result);
  const rows = before.flatMap((row, index) => {
    const changed = after[index]?.value;
    return JSON.stringify(row.value) === JSON.stringify(changed) ? [] : [{ ...row, changed }];
  });
  const [plots, others] = [now, other].map(({ worked, body }) => plotsOf(name, body, worked.result));
  return (
    <div class="stack">
      {rows.length === 0 ? (
        <p>{t('what-if.same')}</p>
      ) : (
        <div class="wide" tabIndex={0} role="region" aria-label={t('what-if.difference')}>
          <table>
            <thead>
              <tr>
                <td />
                <th scope="col">{t('what-if.now')}</th>
                <th scope="col">{changed}</th>
                <th scope="col">{t('what-if.difference')}</th>
              </tr>
            </thead>
            <tbody>
              {rows.map((row) => (
                <tr key={row.name}>
                  <th scope="row">{row.name}</th>
                  <td>{valueText(row.field, row.value)}</td>
                  <td>{valueText(row.field, row.changed)}</td>
                  <td>{differenceText(row)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
      {plots !== undefined && others !== undefined && plots.length > 0 && (
        <div class="charts">
          {plots.slice(0, 1).map((spec) => (
            <Chart key="now" spec={{ ...spec, title: `${t('what-if.now')}: ${spec.title}` }} />
          ))}
          {others.slice(0, 1).map((spec) => (
            <Chart key="then" spec={{ ...spec, title: `${changed}: ${spec.title}` }} />
          ))}
        </div>
      )}
    </div>
  );
}

/** Differences of temperatures are in the degrees of both; what is no number has none. */
function differenceText({ field, value, changed }: Single & { changed: unknown }): string {
  if (typeof value !== 'number' || typeof changed !== 'number') return '';
  const difference = roundTo(changed - value, 3);
  const sign = difference > 0 ? '+' : '';
  return `${sign}${showNumber(difference, currentLanguage())}${field.unit === undefined ? '' : ` ${unitText(field.unit)}`}`;
}

import type { ComponentChildren, JSX } from 'preact';
import { useState } from 'preact/hooks';
import { currentLanguage } from '../shared/text.ts';
import { type Field, labelOf, optionText } from './forms.ts';
import { text, unitText } from './text.ts';
import {
  boundsOf,
  chosenOf,
  type Draft,
  type Drafts,
  emptyOf,
  type Faults,
  isEmpty,
  tellerOf,
  textOf,
  unitOf,
} from './values.ts';

const { t } = text;

/** What was wrong with places of a form, by their JSON Pointers. */
export interface Wrong {
  faults: Faults;
  /** what the server said, in English */
  refused: Readonly<Record<string, string>>;
}

interface PlaceProps {
  draft: Draft | undefined;
  /** JSON Pointer into the body */
  at: string;
  wrong: Wrong;
  change(draft: Draft): void;
}

const isWrong = (at: string, { faults, refused }: Wrong): boolean =>
  [...Object.keys(faults), ...Object.keys(refused)].some((place) => place === at || place.startsWith(`${at}/`));

/**
 * The fields of a form or of a part of it; what may be left out and was empty is folded away, and stays there while somebody types
 * in it: a field that jumps loses who types.
 */
export function Fields({ fields, draft, at, wrong, change }: PlaceProps & { fields: readonly Field[] }): JSX.Element {
  const drafts = (draft ?? {}) as Drafts;
  const [shown] = useState(
    () =>
      new Set(fields.filter(({ key, optional }) => optional !== true || !isEmpty(drafts[key])).map(({ key }) => key)),
  );
  const one = (field: Field): JSX.Element => (
    <FieldView
      key={field.key}
      {...{ field, wrong, at: `${at}/${field.key}`, draft: drafts[field.key] }}
      change={(next) => change({ ...drafts, [field.key]: next })}
    />
  );
  const more = fields.filter(({ key }) => !shown.has(key));
  return (
    <div class="fields">
      {fields.filter(({ key }) => shown.has(key)).map(one)}
      {more.length > 0 && (
        <details class="more" open={shown.size === 0 || more.some(({ key }) => isWrong(`${at}/${key}`, wrong))}>
          <summary>{t('more', { count: more.length })}</summary>
          <div class="fields">{more.map(one)}</div>
        </details>
      )}
    </div>
  );
}

/** One place as it is asked. */
export function FieldView(props: PlaceProps & { field: Field }): JSX.Element {
  const { field, draft, at, wrong, change } = props;
  if (field.kind === 'group') {
    return (
      <fieldset class="part">
        <legend>{labelOf(field)}</legend>
        <Fields {...{ fields: field.fields ?? [], draft, at, wrong, change }} />
      </fieldset>
    );
  }
  if (field.kind === 'list') return <ListView {...props} />;
  if (field.kind === 'either') return <EitherView {...props} />;
  return <Leaf {...props} />;
}

/** One of several forms: what tells them apart is asked first. */
function EitherView({ field, draft, at, wrong, change }: PlaceProps & { field: Field }): JSX.Element {
  const drafts = (draft ?? {}) as Drafts;
  const teller = tellerOf(field);
  const chosen = chosenOf(field, drafts);
  const asked: Field = { key: teller.key, kind: 'choice', options: teller.options, what: t('which-kind') };
  return (
    <div class="stack">
      <Leaf
        {...{ field: asked, draft: drafts[teller.key], at: `${at}/${teller.key}`, wrong }}
        change={(next) => change({ ...drafts, [teller.key]: next })}
      />
      {chosen !== undefined && (
        <Fields
          key={textOf(drafts[teller.key])}
          {...{
            fields: (chosen.fields ?? []).filter(({ key }) => key !== teller.key),
            draft: drafts,
            at,
            wrong,
            change,
          }}
        />
      )}
    </div>
  );
}

/** Several of a kind: choices are ticked, all else has rows. */
function ListView({ field, draft, at, wrong, change }: PlaceProps & { field: Field }): JSX.Element {
  const [item] = field.fields ?? [];
  const rows = Array.isArray(draft) ? draft : [];
  if (item === undefined) return <p>{labelOf(field)}</p>;
  if (item.kind === 'choice') {
    return (
      <fieldset class="part">
        <legend>{labelOf(field)}</legend>
        {(item.options ?? []).map((option) => (
          <label class="tick" key={option}>
            <input
              type="checkbox"
              checked={rows.includes(option)}
              onChange={(event) =>
                change(event.currentTarget.checked ? [...rows, option] : rows.filter((one) => one !== option))
              }
            />{' '}
            {optionText(option)}
          </label>
        ))}
        <Fault {...{ field, at, wrong }} />
      </fieldset>
    );
  }
  const put = (index: number, next: Draft): void => change(rows.map((row, i) => (i === index ? next : row)));
  return (
    <fieldset class="part">
      <legend>{labelOf(field)}</legend>
      {rows.map((row, index) => (
        // rows have nothing of their own to be known by; their place is what their pointer says too
        <div class="entry-row" key={`${rows.length} ${index}`}>
          <FieldView
            {...{ field: { ...item, what: t('row', { number: index + 1 }) }, draft: row, wrong }}
            at={`${at}/${index}`}
            change={(next) => put(index, next)}
          />
          <button type="button" class="no-print" onClick={() => change(rows.filter((_, i) => i !== index))}>
            {t('row.drop')} <span class="unseen">{t('row', { number: index + 1 })}</span>
          </button>
        </div>
      ))}
      <Fault {...{ field, at, wrong }} />
      {rows.length < (field.max ?? 100) && (
        <p class="no-print">
          <button type="button" onClick={() => change([...rows, emptyOf(item)])}>
            {t('row.add')} <span class="unseen">{labelOf(field)}</span>
          </button>
        </p>
      )}
    </fieldset>
  );
}

/** Id of the field of a place, so that a message can lead there. */
export const idOf = (at: string): string => `f${at.replaceAll('/', '-')}`;

function Leaf({ field, draft, at, wrong, change }: PlaceProps & { field: Field }): JSX.Element {
  const id = idOf(at);
  const unit = unitOf(field);
  const value = textOf(draft);
  const common = {
    id,
    'aria-invalid': isWrong(at, wrong),
    'aria-describedby': `${id}-says`,
    value,
  };
  return (
    <div class="field">
      <label for={id}>
        {labelOf(field)}
        {unit !== undefined && <span class="unseen">, {unitText(unit)}</span>}
      </label>
      <div class="with-unit">
        {field.kind === 'choice' || field.kind === 'flag' ? (
          <select {...common} onChange={(event) => change(event.currentTarget.value)}>
            <option value="">{t('choose')}</option>
            {optionsOf(field).map(([option, name]) => (
              <option key={option} value={option}>
                {name}
              </option>
            ))}
          </select>
        ) : (
          <Typed field={field} common={common} change={change} />
        )}
        {unit !== undefined && <span aria-hidden="true">{unitText(unit)}</span>}
      </div>
      <div id={`${id}-says`}>
        <Bounds field={field} />
        <Fault {...{ field, at, wrong }} />
      </div>
    </div>
  );
}

interface Common {
  id: string;
  'aria-invalid': boolean;
  'aria-describedby': string;
  value: string;
}

function Typed({ field, common, change }: { field: Field; common: Common; change(draft: string): void }): JSX.Element {
  if (field.kind === 'date') {
    return <input {...common} type="date" onInput={(event) => change(event.currentTarget.value)} />;
  }
  return (
    <input
      {...common}
      type="text"
      inputMode={field.kind === 'number' ? 'decimal' : 'text'}
      autoComplete="off"
      maxLength={80}
      onInput={(event) => change(event.currentTarget.value)}
    />
  );
}

const optionsOf = ({ kind, options = [] }: Field): [string, string][] =>
  kind === 'flag'
    ? [
        ['true', t('yes')],
        ['false', t('no')],
      ]
    : options.map((option) => [option, optionText(option)]);

function Bounds({ field }: { field: Field }): ComponentChildren {
  if (field.kind !== 'measure' && field.kind !== 'number') return null;
  const { low, high } = boundsOf(field, currentLanguage());
  if (low !== undefined && high !== undefined) return <span class="soft">{t('bounds', { low, high })}</span>;
  if (low !== undefined) return <span class="soft">{t('bounds.low', { low })}</span>;
  return high === undefined ? null : <span class="soft">{t('bounds.high', { high })}</span>;
}

function Fault({ field, at, wrong }: { field: Field; at: string; wrong: Wrong }): ComponentChildren {
  const fault = wrong.faults[at];
  const said = wrong.refused[at];
  if (fault !== undefined) return <p class="fault">{fault === 'needed' ? neededText(field) : t(`fault.${fault}`)}</p>;
  return said === undefined ? null : (
    <p class="fault" lang="en">
      {said}
    </p>
  );
}

const neededText = ({ kind }: Field): string =>
  kind === 'choice' || kind === 'flag' ? t('fault.choose') : t('fault.needed');

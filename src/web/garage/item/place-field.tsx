import type { TargetedInputEvent } from 'preact';
import { useState } from 'preact/hooks';
import type { SimpleAnswerType } from '../../../domain/catalogue/item.ts';
import { convert, roundTo, type Unit } from '../../../domain/quantity.ts';
import { currentLanguage } from '../../shared/text.ts';
import { convertShown, readQuantity, showNumber, shownUnit, suffixOf } from '../../shared/units.ts';
import { useGarage } from '../context.ts';
import type { Place } from '../kept/asked.ts';
import { fieldId, isNoAnswer, type Leaf, leafAt } from '../kept/cells.ts';
import { setCell, setUnread } from '../kept/declaration.ts';
import { text } from '../text.ts';
import { unitWord } from '../units-panel.tsx';
import { optionText } from '../verdict/say.ts';
import { faultAttributes, FieldState } from './field-state.tsx';

const { t } = text;

export interface FieldProps {
  place: Place;
  id: string;
  /** for a screen reader: where and what */
  name: string;
  hasFault: boolean;
}

interface PlaceFieldProps {
  place: Place;
  /** above the field; absent where the heading says it */
  label: string | undefined;
  name: string;
}

/** The field of one value, with its label above and its state below. */
export function PlaceField({ place, label, name }: PlaceFieldProps) {
  const { declaration } = useGarage();
  const id = fieldId(place.cell);
  const hasFault =
    declaration.faults.value[place.cell] !== undefined || declaration.unread.value[place.cell] !== undefined;
  const isLone = place.type.kind !== 'choice' && place.type.kind !== 'choices' && place.type.kind !== 'yes-no';
  return (
    <div class="field">
      {label !== undefined &&
        (isLone ? (
          <label for={id}>{label}</label>
        ) : (
          <span class="field-label" aria-hidden="true">
            {label}
          </span>
        ))}
      <Control place={place} id={id} name={name} hasFault={hasFault} />
      <FieldState place={place} id={id} />
    </div>
  );
}

function Control(props: FieldProps) {
  const { type } = props.place;
  switch (type.kind) {
    case 'number':
      return <NumberField {...props} type={type} />;
    case 'choice':
      return (
        <ChoiceField {...props} options={type.options.map((value) => ({ value, label: optionText(type, value) }))} />
      );
    case 'yes-no':
      return (
        <ChoiceField
          {...props}
          options={[
            { value: true, label: text.t('yes') },
            { value: false, label: text.t('no') },
          ]}
        />
      );
    case 'choices':
      return <ChoicesField {...props} options={type.options} />;
    case 'confirm':
      return <ConfirmField {...props} />;
    case 'date':
      return <TextField {...props} kind="date" />;
    case 'text':
      return <TextField {...props} kind="text" maxLength={type.maxLength} digits={isDigits(type)} />;
  }
}

/** Whether the keyboard with digits only will do. */
const isDigits = (type: Extract<SimpleAnswerType, { kind: 'text' }>): boolean =>
  /^(\[0-9\]|\\d)/.test(type.pattern?.source ?? '') && !/[A-Z]/.test(type.pattern?.source ?? '');

interface NumberType {
  unit: Unit;
  max: number;
  decimals: number;
}

/** The number to show in a unit, for an answer as it is kept. */
function shownValue(leaf: Leaf | undefined, type: NumberType, unit: Unit): number | undefined {
  if (typeof leaf === 'number') return convertShown(leaf, type.unit, unit, type);
  if (typeof leaf !== 'object' || Array.isArray(leaf) || isNoAnswer(leaf)) return undefined;
  const { value, unit: from } = leaf as { value: number; unit: Unit };
  if (from === unit) return value;
  const kept = convert(value, from, type.unit);
  return kept === undefined ? value : convertShown(roundTo(kept, type.decimals), type.unit, unit, type);
}

/** A number with its unit beside it, in the unit of this device; one that is typed with its own unit counts as typed. */
function NumberField({ place, id, name, hasFault, type }: FieldProps & { type: NumberType }) {
  const { declaration, sync } = useGarage();
  const [typed, setTyped] = useState<string | undefined>(undefined);
  const unit = shownUnit(type.unit, type.max);
  const value = shownValue(leafAt(declaration.cells.value, place), type, unit);
  const kept =
    declaration.unread.value[place.cell] ?? (value === undefined ? '' : showNumber(value, currentLanguage()));
  const take = (said: string): void => {
    setTyped(said);
    const read = readQuantity(said, unit);
    if (said.trim() === '') setCell(declaration, place.cell, undefined);
    else if (read === undefined) setUnread(declaration, place.cell, said);
    else setCell(declaration, place.cell, read.unit === type.unit ? read.value : read);
    sync.typed();
  };
  const sign = unitWord(unit) ?? suffixOf(unit).trim();
  return (
    <div class="with-unit">
      <input
        id={id}
        type="text"
        inputMode="decimal"
        autoComplete="off"
        enterKeyHint="next"
        class="number"
        value={typed ?? kept}
        disabled={!declaration.open.value}
        aria-label={sign === '' ? name : `${name}, ${sign}`}
        {...faultAttributes(hasFault, id)}
        onInput={(event) => take(event.currentTarget.value)}
        onBlur={() => setTyped(undefined)}
      />
      {sign !== '' && (
        <span class="unit" aria-hidden="true">
          {sign}
        </span>
      )}
    </div>
  );
}

interface Option {
  value: string | boolean;
  label: string;
}

/** One of several, as large radio buttons; the whole button can be hit. */
function ChoiceField({ place, id, name, hasFault, options }: FieldProps & { options: readonly Option[] }) {
  const { declaration, sync } = useGarage();
  const chosen = leafAt(declaration.cells.value, place);
  if (options.length > MOST_BUTTONS) return <SelectField {...{ place, id, name, hasFault, options, chosen }} />;
  return (
    <div
      id={id}
      role="radiogroup"
      tabIndex={-1}
      class={options.length > 6 ? 'options many' : 'options'}
      aria-label={name}
      {...faultAttributes(hasFault, id)}
    >
      {options.map(({ value, label }) => (
        <label key={String(value)} class="option">
          <input
            type="radio"
            name={id}
            checked={chosen === value}
            disabled={!declaration.open.value}
            onChange={() => {
              setCell(declaration, place.cell, value);
              sync.typed();
            }}
          />
          <span>{label}</span>
        </label>
      ))}
    </div>
  );
}

/** More than these stand in a list that opens. */
const MOST_BUTTONS = 7;

/** One of many, in the list of the phone; nothing is chosen before somebody chooses. */
function SelectField(props: FieldProps & { options: readonly Option[]; chosen: Leaf | undefined }) {
  const { place, id, name, hasFault, options, chosen } = props;
  const { declaration, sync } = useGarage();
  return (
    <select
      id={id}
      aria-label={name}
      value={typeof chosen === 'string' ? chosen : ''}
      disabled={!declaration.open.value}
      {...faultAttributes(hasFault, id)}
      onChange={({ currentTarget: { value } }) => {
        setCell(declaration, place.cell, value === '' ? undefined : value);
        sync.typed();
      }}
    >
      <option value="">{t('answer.choose')}</option>
      {options.map(({ value, label }) => (
        <option key={String(value)} value={String(value)}>
          {label}
        </option>
      ))}
    </select>
  );
}

/** Any of several. "None of these" is an answer too: an empty list. */
function ChoicesField({ place, id, name, hasFault, options }: FieldProps & { options: readonly string[] }) {
  const { declaration, sync } = useGarage();
  const leaf = leafAt(declaration.cells.value, place);
  const chosen: readonly string[] = Array.isArray(leaf) ? leaf : [];
  const set = (next: readonly string[] | undefined): void => {
    setCell(declaration, place.cell, next);
    sync.typed();
  };
  return (
    <div id={id} role="group" tabIndex={-1} class="options many" aria-label={name} {...faultAttributes(hasFault, id)}>
      {options.map((option) => (
        <label key={option} class="option">
          <input
            type="checkbox"
            checked={chosen.includes(option)}
            disabled={!declaration.open.value}
            onChange={({ currentTarget: { checked } }) =>
              set(options.filter((one) => (one === option ? checked : chosen.includes(one))))
            }
          />
          <span>{optionText(place.type, option)}</span>
        </label>
      ))}
      <label class="option">
        <input
          type="checkbox"
          checked={Array.isArray(leaf) && leaf.length === 0}
          disabled={!declaration.open.value}
          onChange={({ currentTarget: { checked } }) => set(checked ? [] : undefined)}
        />
        <span>{t('answer.none-of-these')}</span>
      </label>
    </div>
  );
}

/** A confirmation. Taking it back leaves the question unanswered. */
function ConfirmField({ place, id, name, hasFault }: FieldProps) {
  const { declaration, sync } = useGarage();
  return (
    <label class="option confirm">
      <input
        id={id}
        type="checkbox"
        checked={leafAt(declaration.cells.value, place) === true}
        disabled={!declaration.open.value}
        aria-label={`${name}: ${text.t('answer.confirm')}`}
        {...faultAttributes(hasFault, id)}
        onChange={({ currentTarget: { checked } }) => {
          setCell(declaration, place.cell, checked ? true : undefined);
          sync.typed();
        }}
      />
      <span>{text.t('answer.confirm')}</span>
    </label>
  );
}

/** A line of text, or a day. */
function TextField(props: FieldProps & { kind: 'text' | 'date'; maxLength?: number; digits?: boolean }) {
  const { place, id, name, hasFault, kind, maxLength, digits } = props;
  const { declaration, sync } = useGarage();
  const leaf = leafAt(declaration.cells.value, place);
  const shared = {
    id,
    value: typeof leaf === 'string' ? leaf : '',
    autoComplete: 'off',
    enterKeyHint: 'next',
    disabled: !declaration.open.value,
    'aria-label': name,
    ...faultAttributes(hasFault, id),
    onInput: ({ currentTarget: { value } }: TargetedInputEvent<HTMLInputElement>): void => {
      setCell(declaration, place.cell, value.trim() === '' ? undefined : value);
      sync.typed();
    },
  } as const;
  if (kind === 'date') return <input type="date" {...shared} />;
  return (
    <input type="text" inputMode={digits === true ? 'numeric' : 'text'} maxLength={maxLength ?? 200} {...shared} />
  );
}

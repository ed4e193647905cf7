import type { CatalogueItem } from '../../api/operations.ts';
import { isTyped, type PlaceEntry, type Point } from '../state/worksheet.ts';
import { placeId } from '../state/feed.ts';
import { type Part, partsOf, readTyped, type SimpleType } from '../state/read-typed.ts';
import { text } from '../text.ts';
import { NumberField } from './number-field.tsx';
const { t } = text;

interface Props {
  item: CatalogueItem;
  cell: string;
  /** of the place, for those who do not see it */
  name: string;
  entry: PlaceEntry;
  point: Point;
  onChange(change: PlaceEntry): void;
}

/** What was measured or found at a place, part by part, with what is wrong beside the part. */
export function ValueField({ item, cell, name, entry, point, onChange }: Props) {
  const typed = entry.typed ?? {};
  const read = isTyped(entry) ? readTyped(item, typed) : undefined;
  const fault = read?.ok === false ? read.fault : undefined;
  return (
    <>
      {partsOf(item).map((part) => {
        const id = `${placeId(cell)}-${part.name}`;
        const own = fault?.part === part.name ? fault : undefined;
        const common = {
          id,
          label: labelOf(part),
          about: name,
          text: typed[part.name] ?? '',
          faultId: own === undefined ? undefined : `${id}-fault`,
          onChange: (value: string) => onChange({ typed: { ...typed, [part.name]: value } }),
        };
        return (
          <div key={part.name}>
            {part.type.kind === 'number' ? (
              <NumberField {...common} type={part.type} declared={point.declared?.[part.name]} />
            ) : (
              <PlainField {...common} type={part.type} />
            )}
            {own !== undefined && (
              <p class="fault" id={`${id}-fault`}>
                {t(own.key, own.values)}
              </p>
            )}
          </div>
        );
      })}
    </>
  );
}

const labelOf = ({ label, type }: Part): string => label ?? t(type.kind === 'number' ? 'measured' : 'found');

/** What every field of a value has. */
export interface FieldProps {
  id: string;
  label: string;
  about: string;
  text: string;
  /** set while something is wrong with it */
  faultId: string | undefined;
  onChange(text: string): void;
}

/** What was found where it is not a number: one of several answers, yes or no, a date, a text. */
function PlainField({ type, ...field }: FieldProps & { type: SimpleType }) {
  const { id, label, about, text, faultId, onChange } = field;
  const common = {
    id,
    value: text,
    'aria-invalid': faultId !== undefined,
    'aria-describedby': faultId,
  };
  const options = optionsOf(type);
  return (
    <>
      <label for={id}>
        {label}
        <span class="unseen">: {about}</span>
      </label>
      {options === undefined ? (
        <TypedInput type={type} {...field} />
      ) : (
        <select {...common} onChange={(event) => onChange(event.currentTarget.value)}>
          <option value="">{t('found.as-declared')}</option>
          {options.map(([value, shown]) => (
            <option key={value} value={value}>
              {shown}
            </option>
          ))}
        </select>
      )}
    </>
  );
}

/** A date, or a line of text. */
function TypedInput({ type, id, text, faultId, onChange }: FieldProps & { type: SimpleType }) {
  const common = {
    id,
    value: text,
    'aria-invalid': faultId !== undefined,
    'aria-describedby': faultId,
    onInput: (event: { currentTarget: HTMLInputElement }) => onChange(event.currentTarget.value),
  };
  if (type.kind === 'date') return <input type="date" {...common} />;
  return <input type="text" autocomplete="off" maxLength={type.kind === 'text' ? type.maxLength : 100} {...common} />;
}

function optionsOf(type: SimpleType): readonly (readonly [string, string])[] | undefined {
  if (type.kind === 'choice') return type.options.map((option) => [option, option]);
  if (type.kind === 'confirm' || type.kind === 'yes-no') {
    return [
      ['yes', t('yes')],
      ['no', t('no')],
    ];
  }
  return undefined;
}

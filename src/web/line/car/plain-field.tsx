import type { SimpleType } from '../state/read-typed.ts';
import { text as words } from '../text.ts';
import type { FieldProps } from './value-field.tsx';

const { t } = words;

/** What was found where it is not a number: one of several answers, yes or no, a date, a text. */
export function PlainField({ type, ...field }: FieldProps & { type: SimpleType }) {
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

import { type NumberType, stepOf, stepped } from '../state/read-typed.ts';
import { text as words } from '../text.ts';
import type { FieldProps } from './value-field.tsx';

const { t } = words;

interface Props extends FieldProps {
  type: NumberType;
  declared: unknown;
}

/** A number with its unit and two big steps; the first step begins at what was declared. */
export function NumberField({ id, label, about, text, faultId, onChange, type, declared }: Props) {
  const unit = type.unit === '1' ? '' : type.unit;
  const step = stepOf(type);
  return (
    <div class="measure">
      <label for={id}>
        {label}
        {unit !== '' && ` (${unit})`}
        <span class="unseen">: {about}</span>
      </label>
      <div class="steps">
        <button
          type="button"
          class="glove"
          aria-label={t('step.less', { step, unit, about })}
          onClick={() => onChange(stepped(type, text, declared, -1))}
        >
          −
        </button>
        <input
          id={id}
          class="number"
          inputMode={type.min < 0 ? 'text' : 'decimal'}
          autocomplete="off"
          value={text}
          aria-invalid={faultId !== undefined}
          aria-describedby={faultId}
          onInput={(event) => onChange(event.currentTarget.value)}
        />
        <button
          type="button"
          class="glove"
          aria-label={t('step.more', { step, unit, about })}
          onClick={() => onChange(stepped(type, text, declared, 1))}
        >
          +
        </button>
      </div>
    </div>
  );
}

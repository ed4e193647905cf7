import type { SimpleAnswerType } from '../../../domain/catalogue/item.ts';
import type { Place } from '../asked.ts';
import { useGarage } from '../context.ts';
import { fieldId } from '../field-id.ts';
import { pretty } from '../say.ts';
import { text } from '../text.ts';
import { ChoiceField } from './choice-field.tsx';
import { ChoicesField } from './choices-field.tsx';
import { ConfirmField } from './confirm-field.tsx';
import { FieldState } from './field-state.tsx';
import { NumberField } from './number-field.tsx';
import { TextField } from './text-field.tsx';

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
  const { desk } = useGarage();
  const id = fieldId(place.cell);
  const hasFault = desk.faults.value[place.cell] !== undefined || desk.unread.value[place.cell] !== undefined;
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
      return <ChoiceField {...props} options={type.options.map((value) => ({ value, label: pretty(value) }))} />;
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

import { useState } from 'preact/hooks';
import { READS_NAMES, type Reads } from '../../../domain/line/instruments.ts';
import { call } from '../../api/call.ts';
import { changeEvent, type NamedInstrument } from '../../api/operations.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { text } from '../text.ts';

const { t } = text;

/** Units that such readings are written in; the first is the usual one. */
const UNITS: Readonly<Record<Reads, readonly string[]>> = {
  pads: ['mm', 'in'],
  tread: ['mm', 'in'],
  rotors: ['mm', 'in'],
  drums: ['mm', 'in'],
  'brake-fluid': ['°C', '°F'],
  torque: ['N·m', 'lbf·ft'],
  pressure: ['kPa', 'bar', 'psi'],
  play: ['mm', 'in'],
  runout: ['mm', 'in'],
  sound: ['dB(A)'],
};

interface Row {
  id: number;
  name: string;
  reads: Reads;
  uncertainty: string;
  unit: string;
  source: string;
}

interface Props {
  eventId: string;
  instruments: readonly NamedInstrument[];
  etag: string | undefined;
  office: OfficeContext;
  onSaved(etag: string | undefined): void;
}

let lastId = 0;
const rowOf = (one: NamedInstrument): Row => ({
  ...one,
  id: ++lastId,
  uncertainty: String(one.uncertainty),
  source: one.source ?? '',
});

/** What is not a number goes as it was typed: the server says what is wrong beside the field. */
const numberOr = (typed: string): number => {
  const value = Number(typed.trim().replace(',', '.'));
  return typed.trim() === '' || Number.isNaN(value) ? (typed as unknown as number) : value;
};

/** The instruments of the line by name, each with how far it may be off. */
export function InstrumentsForm({ eventId, instruments, etag, office, onSaved }: Props) {
  const [rows, setRows] = useState<readonly Row[]>(() => instruments.map(rowOf));
  const [tag, setTag] = useState<string>();
  const change = (id: number, changed: Partial<Row>) =>
    setRows(rows.map((row) => (row.id === id ? { ...row, ...changed } : row)));
  const send = async (): Promise<void> => {
    const body = {
      instruments: rows.map(({ name, reads, uncertainty, unit, source }) => ({
        name: name.trim(),
        reads,
        uncertainty: numberOr(uncertainty),
        unit,
        ...(source.trim() === '' ? {} : { source: source.trim() }),
      })),
    };
    const known = tag ?? etag;
    const headers = known === undefined ? {} : { 'if-match': known };
    const saved = await call(changeEvent, { params: { eventId }, headers, body }, { token: office.token });
    setTag(undefined);
    onSaved(saved.etag);
    say(t('instruments.saved'));
  };
  return (
    <>
      <p class="soft">{t('instruments.what')}</p>
      <Form
        label={t('instruments')}
        submit={t('save')}
        onSend={send}
        onTrouble={(trouble) => {
          // the next press saves over what was changed meanwhile; the refusal on screen says that it was
          if (trouble?.status === 412) setTag(trouble.etag);
        }}
      >
        {rows.map((row, index) => (
          <InstrumentRow
            key={row.id}
            row={row}
            index={index}
            onChange={(changed) => change(row.id, changed)}
            onRemove={() => setRows(rows.filter(({ id }) => id !== row.id))}
          />
        ))}
        <div class="row">
          <button type="button" onClick={() => setRows([...rows, emptyRow()])}>
            {t('instruments.add')}
          </button>
        </div>
      </Form>
    </>
  );
}

const emptyRow = (): Row => ({ id: ++lastId, name: '', reads: 'tread', uncertainty: '', unit: 'mm', source: '' });

interface RowProps {
  row: Row;
  index: number;
  onChange(changed: Partial<Row>): void;
  onRemove(): void;
}

function InstrumentRow({ row, index, onChange, onRemove }: RowProps) {
  const at = `/instruments/${index}`;
  return (
    <fieldset class="stack">
      <legend>{row.name === '' ? t('instruments.new') : row.name}</legend>
      <div class="fields">
        <Input
          label={t('instruments.name')}
          pointer={`${at}/name`}
          value={row.name}
          onValue={(name) => onChange({ name })}
        />
        <Select
          label={t('instruments.reads')}
          pointer={`${at}/reads`}
          value={row.reads}
          onValue={(reads) => onChange({ reads: reads as Reads, unit: UNITS[reads as Reads][0] ?? row.unit })}
          options={READS_NAMES.map((one) => [one, t(`instruments.reads.${one}`)] as const)}
        />
        <Input
          label={t('instruments.uncertainty')}
          hint={t('instruments.uncertaintyHint')}
          inputMode="decimal"
          pointer={`${at}/uncertainty`}
          value={row.uncertainty}
          onValue={(uncertainty) => onChange({ uncertainty })}
        />
        <Select
          label={t('instruments.unit')}
          pointer={`${at}/unit`}
          value={row.unit}
          onValue={(unit) => onChange({ unit })}
          options={UNITS[row.reads].map((unit) => [unit, unit] as const)}
        />
        <Input
          label={t('instruments.source')}
          hint={t('instruments.sourceHint')}
          pointer={`${at}/source`}
          value={row.source}
          onValue={(source) => onChange({ source })}
        />
      </div>
      <div class="row">
        <button type="button" onClick={onRemove}>
          {t('instruments.remove', { name: row.name === '' ? t('instruments.new') : row.name })}
        </button>
      </div>
    </fieldset>
  );
}

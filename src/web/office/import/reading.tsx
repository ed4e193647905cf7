import type { ListLook, ListReadingInput } from '../../api/operations.ts';
import { Check, Select } from '../parts/form.tsx';
import { Table } from '../parts/panel.tsx';
import { importText } from './text.ts';

const { t } = importText;

type Column = ListLook['columns'][number];

interface ReadingProps {
  look: ListLook;
  reading: ListReadingInput;
  /** names of the run groups of the event */
  groups: readonly string[];
  onReading(reading: ListReadingInput): void;
}

const ENCODINGS = ['utf-8', 'utf-16le', 'utf-16be', 'windows-1252'];
const DELIMITERS = [
  [',', 'comma'],
  [';', 'semicolon'],
  ['\t', 'tab'],
  ['|', 'bar'],
] as const;

/** How a list is read: what was found, and what somebody says otherwise. */
export function ReadingPart(props: ReadingProps) {
  const { look } = props;
  const open = look.columns.filter(({ to, filled }) => to === undefined && filled > 0).length;
  return (
    <div class="stack" data-look={look.kind}>
      <h4>{t('look.title')}</h4>
      <p role="status">{t('look.found', { rows: look.rows })}</p>
      {look.lostLetters > 0 && <p class="notice bad">{t('look.lost', { rows: look.lostLetters })}</p>}
      <Found {...props} />
      {look.ours ? (
        <p class="notice good">{t('columns.ours')}</p>
      ) : (
        <>
          {open > 0 && <p class="notice look">{t('columns.openCount', { count: open })}</p>}
          <Columns {...props} />
          {(open > 0 || props.reading.ignoreOthers === true) && (
            <Check
              label={t('columns.others')}
              checked={props.reading.ignoreOthers === true}
              onChecked={(checked) => props.onReading({ ...props.reading, ignoreOthers: checked })}
            />
          )}
        </>
      )}
      <Groups {...props} />
    </div>
  );
}

function Found({ look, reading, onReading }: ReadingProps) {
  // Another file of columns begins with what it says itself, not with what was said of the one before.
  const anew = (change: ListReadingInput): void => onReading({ ...change, groups: reading.groups });
  const { encoding, delimiter, sheet } = reading;
  return (
    <div class="fields">
      {look.encoding !== undefined && (
        <Select
          label={t('look.encoding')}
          value={look.encoding}
          onValue={(value) => onReading({ ...reading, encoding: value as NonNullable<ListReadingInput['encoding']> })}
          options={ENCODINGS.map((one) => [one, one.toUpperCase()])}
        />
      )}
      {look.delimiter !== undefined && (
        <Select
          label={t('look.delimiter')}
          value={look.delimiter}
          onValue={(value) => anew({ encoding, delimiter: value as NonNullable<ListReadingInput['delimiter']> })}
          options={DELIMITERS.map(([sign, name]) => [sign, t(`delimiter.${name}`)])}
        />
      )}
      {look.sheets !== undefined && (
        <Select
          label={t('look.sheet')}
          value={look.sheet ?? ''}
          onValue={(value) => anew({ sheet: value })}
          options={look.sheets.map((one) => [one, one])}
        />
      )}
      <Select
        label={t('look.header')}
        value={String(look.headerRow)}
        onValue={(value) => anew({ encoding, delimiter, sheet, headerRow: Number(value) })}
        options={look.top.map(({ row, cells }) => [
          String(row),
          t('look.row', { row, cells: cells.filter(Boolean).slice(0, 5).join(' · ') }),
        ])}
      />
    </div>
  );
}

const IGNORE = '-';
const valueOf = ({ to }: Column): string => (to === null ? IGNORE : (to ?? ''));

function Columns({ look, reading, onReading }: ReadingProps) {
  const say = (at: number, value: string): void => {
    const others = (reading.columns ?? []).filter((one) => one.at !== at);
    const to = value === IGNORE ? null : (value as NonNullable<NonNullable<ListReadingInput['columns']>[number]['to']>);
    onReading({ ...reading, columns: value === '' ? others : [...others, { at, to }] });
  };
  return (
    <Table caption={t('columns.title')} head={[t('columns.name'), t('columns.samples'), t('columns.to')]}>
      {look.columns.map((column) => (
        <tr key={column.at} data-column={column.at}>
          <th scope="row">{column.name === '' ? t('columns.unnamed', { at: column.at }) : column.name}</th>
          <td class="soft">{column.samples.join(' · ')}</td>
          <td>
            <Target column={column} targets={look.targets} onValue={(value) => say(column.at, value)} />
            {column.because !== undefined && <span class="soft"> {t(`because.${column.because}`)}</span>}
          </td>
        </tr>
      ))}
    </Table>
  );
}

const MAIN = [
  'carNumber',
  'runGroup',
  'entrantName',
  'entrantFirstName',
  'entrantLastName',
  'entrantEmail',
  'entrantPhone',
  'entrantPersonId',
  'vehicle.description',
  'vehicle.colour',
  'vehicle.massKg',
  'people',
  'vehicleId',
] as const;

function Target(props: { column: Column; targets: readonly string[]; onValue(value: string): void }) {
  const { column, targets, onValue } = props;
  const cars = targets.filter((name) => !(MAIN as readonly string[]).includes(name));
  return (
    <select
      aria-label={`${t('columns.to')}: ${column.name === '' ? column.at : column.name}`}
      value={valueOf(column)}
      onChange={({ currentTarget }) => onValue(currentTarget.value)}
    >
      <option value="">{t('columns.open')}</option>
      <option value={IGNORE}>{t('columns.ignore')}</option>
      <optgroup label={t('columns.group.main')}>
        {MAIN.map((name) => (
          <option key={name} value={name}>
            {t(`target.${name}`)}
          </option>
        ))}
      </optgroup>
      <optgroup label={t('columns.group.car')}>
        {cars.map((name) => (
          <option key={name} value={name}>
            {name.replace('vehicle.', '')}
          </option>
        ))}
      </optgroup>
    </select>
  );
}

function Groups({ look, reading, groups, onReading }: ReadingProps) {
  const say = (written: string, group: string): void => {
    if (written === '') {
      const { group: _, ...rest } = reading;
      onReading(group === '' ? rest : { ...rest, group });
      return;
    }
    const others = (reading.groups ?? []).filter((one) => one.written !== written);
    onReading({ ...reading, groups: group === '' ? others : [...others, { written, group }] });
  };
  return (
    <Table caption={t('groups.title')} head={[t('groups.written'), t('groups.rows'), t('groups.is')]}>
      {look.groups.map(({ written, rows, group }) => (
        <tr key={written}>
          <th scope="row">{written === '' ? t('groups.none') : written}</th>
          <td class="number">{rows}</td>
          <td>
            <select
              aria-label={`${t('groups.is')}: ${written === '' ? t('groups.none') : written}`}
              value={group ?? ''}
              onChange={({ currentTarget }) => say(written, currentTarget.value)}
            >
              <option value="">{t('columns.open')}</option>
              {groups.map((name) => (
                <option key={name} value={name}>
                  {name}
                </option>
              ))}
            </select>
          </td>
        </tr>
      ))}
    </Table>
  );
}

/** What people call a column of our own: in words where there are some. */
export function wordsFor(name: string | undefined, look: ListLook | undefined): string | undefined {
  const main = MAIN.find((one) => one === name);
  const theirs = look?.columns.filter(({ to }) => to === name).map((column) => column.name) ?? [];
  const written = theirs.join(' + ');
  const words = main === undefined ? name : t(`target.${main}`);
  return written === '' || written === name ? words : `${written} (${words})`;
}

import type { CatalogueItem, NamedInstrument } from '../../api/operations.ts';
import { valueText } from '../format.ts';
import { placeId } from '../state/feed.ts';
import { choicesFor, OTHER, partsOf, readWithOf, type Sure, sureOf, unitToType } from '../state/read-typed.ts';
import { isTyped, type PlaceEntry, type Point } from '../state/worksheet.ts';
import { text } from '../text.ts';

const { t } = text;

interface Props {
  item: CatalogueItem;
  cell: string;
  /** of the place, for those who do not see it */
  name: string;
  entry: PlaceEntry;
  point: Point;
  instruments: readonly NamedInstrument[];
  onChange(readWith: PlaceEntry['readWith']): void;
}

/** What a number was read with, and what that makes of it beside its limit. */
export function ReadWithField({ item, cell, name, entry, point, instruments, onChange }: Props) {
  const choices = choicesFor(instruments, item);
  const chosen = entry.readWith?.name ?? '';
  const usual = usualOf(item);
  const id = `${placeId(cell)}-read-with`;
  // a place that is only looked at stays short
  if (!isTyped(entry)) return null;
  const read = readWithOf(item, entry);
  return (
    <div class="stack read-with">
      <label for={id}>
        {t('readWith')}
        <span class="unseen">: {name}</span>
      </label>
      <select id={id} value={chosen} onChange={({ currentTarget }) => onChange({ name: currentTarget.value })}>
        <option value="">{usual === undefined ? t('readWith.none') : t('readWith.usual', usual)}</option>
        {choices.map((one) => (
          <option key={one.name} value={one.name}>
            {one.name} (± {valueText(one.uncertainty, one.unit)})
          </option>
        ))}
        <option value={OTHER}>{t('readWith.other')}</option>
      </select>
      {chosen === OTHER && (
        <OwnInstrument readWith={entry.readWith} unit={unitToType(item) ?? ''} onChange={onChange} />
      )}
      {!read.ok && <p class="fault">{t('fault.readWith')}</p>}
      {partsOf(item).flatMap(({ name: part, type }) =>
        type.kind === 'number'
          ? sureOf({ name: part, type }, { limits: point.limits, instruments }, entry).map((sure) => (
              <SureLine key={`${part} ${sure.limit.title}`} sure={sure} />
            ))
          : [],
      )}
    </div>
  );
}

interface OwnProps {
  readWith: PlaceEntry['readWith'];
  unit: string;
  onChange: Props['onChange'];
}

/** An instrument that the event does not have: what it is, and how far it may be off. */
function OwnInstrument({ readWith, unit, onChange }: OwnProps) {
  return (
    <div class="row">
      <label>
        {t('readWith.name')}
        <input
          maxLength={60}
          value={readWith?.own ?? ''}
          onInput={({ currentTarget }) => onChange({ ...readWith, name: OTHER, own: currentTarget.value })}
        />
      </label>
      <label>
        {t('readWith.uncertainty', { unit })}
        <input
          class="number"
          inputMode="decimal"
          value={readWith?.uncertainty ?? ''}
          onInput={({ currentTarget }) => onChange({ ...readWith, name: OTHER, uncertainty: currentTarget.value })}
        />
      </label>
    </div>
  );
}

function usualOf(item: CatalogueItem): { instrument: string; spread: string } | undefined {
  for (const { type } of partsOf(item)) {
    if (type.kind === 'number' && type.uncertainty !== undefined) {
      const { instrument, expanded } = type.uncertainty;
      return { instrument, spread: valueText(expanded, type.unit) };
    }
  }
  return undefined;
}

/** The limit, how far the reading may be off, from where on it counts, and how likely the true value is inside. */
function SureLine({ sure: { limit, uncertainty, conformity, from, to } }: { sure: Sure }) {
  const { title, unit, atLeast, atMost } = limit;
  const say = (value: number) => valueText(value, unit);
  const asked =
    atLeast !== undefined && atMost !== undefined
      ? t('sure.between', { from: say(atLeast), to: say(atMost) })
      : atLeast !== undefined
        ? t('sure.atLeast', { limit: say(atLeast) })
        : t('sure.atMost', { limit: say(atMost ?? 0) });
  const counts = [
    ...(from === undefined ? [] : [t('sure.countsFrom', { value: say(from) })]),
    ...(to === undefined ? [] : [t('sure.countsTo', { value: say(to) })]),
  ];
  return (
    <p class="soft number" data-sure={conformity?.toFixed(3)}>
      {[
        `${title}: ${asked}`,
        t('sure.spread', { spread: say(uncertainty) }),
        ...counts,
        ...(conformity === undefined ? [] : [t('sure.inside', { percent: percentText(conformity) })]),
      ].join(' ')}
    </p>
  );
}

/** Never 100 for what is only nearly sure, nor 0. */
function percentText(share: number): string {
  const percent = share * 100;
  if (percent > 99.9) return '> 99.9';
  if (percent < 0.1) return '< 0.1';
  return valueText(Math.round(percent * 10) / 10);
}

import { isNear } from '../../../domain/catalogue/item.ts';
import type { CatalogueItem, ClaimLimits } from '../../api/operations.ts';
import { saysText } from '../../shared/says.ts';
import { dayAndTime, placeName, valueText } from '../format.ts';
import { changeWorksheet, type Station } from '../state/station.ts';
import {
  cellOf,
  MARKS,
  type PlaceEntry,
  type Point,
  withPlace,
  withReadWith,
  type Worksheet,
} from '../state/worksheet.ts';
import { placeId } from '../state/feed.ts';
import type { PointGroup } from '../state/points.ts';
import { hasInstrument, isMeasurable, partsOf } from '../state/read-typed.ts';
import { text } from '../text.ts';
import { Photos } from './photos.tsx';
import { ReadWithField } from './read-with.tsx';
import { ValueField } from './value-field.tsx';

type Limit = ClaimLimits['limits'][number];

/** What can be read beside one place in a hurry. */
const MOST = 3;

/** The limits of what is seen at a point: a rule that reads it beside another thing says nothing of it alone. */
function limitsAt({ item, position }: Pick<Point, 'item' | 'position'>, limits: readonly Limit[]): string[] {
  const own = limits.filter(({ items, position: at }) => items[0] === item && isNear(at, position));
  return [...new Set(own.map(({ says }) => saysText(says)))];
}

/** The sentences that hold at every place of a group: they are said once, above its places. */
export function commonLimits({ points }: Pick<PointGroup, 'points'>, limits: readonly Limit[] = []): string[] {
  const [first = [], ...others] = points.map((point) => limitsAt(point, limits));
  return first.filter((sentence) => others.every((sentences) => sentences.includes(sentence))).slice(0, MOST);
}

/** Those of one place that are not said above. */
export function ownLimits(point: Point, group: Pick<PointGroup, 'points'>, limits: readonly Limit[] = []): string[] {
  const common = commonLimits(group, limits);
  return limitsAt(point, limits)
    .filter((sentence) => !common.includes(sentence))
    .slice(0, MOST);
}

/** Limits as sentences, as the entrant reads them. */
export function LimitSentences({ sentences }: { sentences: readonly string[] }) {
  if (sentences.length === 0) return null;
  return (
    <ul class="point-limits">
      {sentences.map((sentence) => (
        <li key={sentence}>{sentence}</li>
      ))}
    </ul>
  );
}

const { t } = text;

interface Props {
  station: Station;
  worksheet: Worksheet;
  point: Point;
  group: PointGroup;
  refused: readonly string[];
}

/** One place at which a thing is looked at: what was declared, what is measured, and how it is. */
export function PlaceRow({ station, worksheet, point, group, refused }: Props) {
  const cell = cellOf(point);
  const entry = worksheet.places[cell] ?? {};
  const catalogue = group.catalogue ?? station.items.value.get(point.item);
  const name = nameOf(point, group);
  const change = (changed: PlaceEntry) =>
    void changeWorksheet(station, worksheet.claimId, (one) => withPlace(one, cell, changed));
  const field = isMeasurable(catalogue, point.position) && catalogue !== undefined && (
    <>
      <ValueField item={catalogue} cell={cell} name={name} entry={entry} point={point} onChange={change} />
      {hasInstrument(catalogue, worksheet.claim.instruments) && (
        <ReadWithField
          {...{ cell, name, entry, point }}
          item={catalogue}
          instruments={worksheet.claim.instruments ?? []}
          onChange={(readWith) => {
            const cells = group.points.map(cellOf);
            void changeWorksheet(station, worksheet.claimId, (one) => withReadWith(one, cells, cell, readWith));
          }}
        />
      )}
    </>
  );
  const isOpen = isShown(point, catalogue);
  return (
    <div class="place-row stack" id={placeId(cell)} tabIndex={-1} role="group" aria-label={name}>
      <PlaceHead point={point} catalogue={catalogue} />
      <LimitSentences sentences={ownLimits(point, group, worksheet.limits)} />
      <DoneFor done={point.doneFor} zone={station.event.timeZone} />
      {refused.map((words) => (
        <p key={words} class="notice bad" id={`${placeId(cell)}-refused`}>
          {t('refused.here', { words })}
        </p>
      ))}
      {isOpen && field}
      <Marks entry={entry} onChange={change} />
      <details class="more" open={entry.mark === 'not-ok'}>
        <summary>{isOpen || field === false ? t('place.more') : t('place.more.value')}</summary>
        <div class="stack">
          {!isOpen && field}
          <Note note={entry.note ?? ''} onChange={change} />
          <Photos station={station} worksheet={worksheet} point={point} name={name} />
        </div>
      </details>
    </div>
  );
}

/** A point looked at on every car may have several items, each with a name of its own. */
function nameOf(point: Point, group: PointGroup): string {
  const label = point.asked === 'always' ? point.label : group.label;
  return point.position === undefined ? label : `${label}, ${placeName(point.position)}`;
}

/** Where it is, what was declared, and whether a value is asked. */
function PlaceHead({ point, catalogue }: { point: Point; catalogue: CatalogueItem | undefined }) {
  return (
    <>
      {point.position !== undefined && <PlaceName position={point.position} />}
      {point.asked === 'always' && <p class="place-name">{point.label}</p>}
      <Declared point={point} item={catalogue} />
      {point.needsValue && <p class="must">{t('points.needs-value')}</p>}
    </>
  );
}

/** What was done here for another entry of the car, and whether it still has to be done for this one. */
function DoneFor({ done, zone }: { done: Point['doneFor']; zone: string }) {
  if (done === undefined) return null;
  const values = { group: done.runGroup, by: done.by, at: dayAndTime(done.at, zone) };
  return (
    <p class={`notice ${done.counts ? 'good' : 'look'}`} data-done={done.counts ? 'counts' : 'open'}>
      {t(done.counts ? 'points.done' : 'points.doneOpen', values)}
    </p>
  );
}

function PlaceName({ position }: { position: string }) {
  return (
    <p class="row place-name">
      <CornerMark position={position} />
      {placeName(position)}
    </p>
  );
}

function Note({ note, onChange }: { note: string; onChange(change: PlaceEntry): void }) {
  return (
    <label>
      {t('place.note')}
      <input maxLength={300} value={note} onInput={(event) => onChange({ note: event.currentTarget.value })} />
    </label>
  );
}

/** A field that will probably be used is in sight; others wait behind "more". */
function isShown(point: Point, catalogue: CatalogueItem | undefined): boolean {
  if (catalogue === undefined) return false;
  const [first, ...others] = partsOf(catalogue);
  const isNumber = others.length === 0 && first?.type.kind === 'number';
  return isNumber || point.asked !== 'usual' || catalogue.answeredBy === 'inspector';
}

const CORNERS: Readonly<Record<string, readonly [number, number]>> = {
  FL: [2, 4],
  FR: [19, 4],
  RL: [2, 24],
  RR: [19, 24],
};

const AXLES: Readonly<Record<string, readonly string[]>> = { front: ['FL', 'FR'], rear: ['RL', 'RR'] };

/** The car from above with the corner that is meant; nothing for a place that is no corner. The name stands beside it. */
function CornerMark({ position }: { position: string }) {
  const corner = position.slice(0, 2);
  const filled = AXLES[position] ?? (corner in CORNERS ? [corner] : []);
  if (filled.length === 0) return null;
  return (
    <svg class="corner" viewBox="0 0 28 40" aria-hidden="true">
      <rect x="6" y="1" width="16" height="38" rx="6" class="body" />
      {Object.entries(CORNERS).map(([name, [x, y]]) => (
        <rect key={name} x={x} y={y} width="7" height="12" rx="1.5" class={filled.includes(name) ? 'this' : 'other'} />
      ))}
    </svg>
  );
}

/** What the entrant said here. */
function Declared({ point, item }: { point: Point; item: CatalogueItem | undefined }) {
  const said = Object.entries(point.declared ?? {});
  if (said.length === 0) return <p class="soft">{t('declared.none')}</p>;
  const parts = item === undefined ? [] : partsOf(item);
  const words = said.map(([name, value]) => {
    const part = parts.find((one) => one.name === name);
    const unit = part?.type.kind === 'number' ? part.type.unit : undefined;
    const shown = valueText(value, unit);
    return part?.label === undefined ? shown : `${part.label}: ${shown}`;
  });
  return (
    <p>
      {t('declared')} <strong class="number">{words.join('; ')}</strong>
      {point.basis !== undefined && (
        <span class="soft"> ({t(`basis.${point.basis.basis}`, { of: point.basis.of ?? '' })})</span>
      )}
    </p>
  );
}

const SIGNS = { ok: '✓', 'not-ok': '✗', 'not-applicable': '–' } as const;

/** OK left, not OK right, and small below them what does not apply. A second press takes an answer back. */
function Marks({ entry, onChange }: { entry: PlaceEntry; onChange(change: PlaceEntry): void }) {
  return (
    <div class="marks">
      {MARKS.map((mark) => (
        <button
          key={mark}
          type="button"
          class={`glove mark ${mark}`}
          aria-pressed={entry.mark === mark}
          onClick={() => onChange({ mark: entry.mark === mark ? undefined : mark })}
        >
          <span aria-hidden="true">{SIGNS[mark]}</span> {t(`mark.${mark}`)}
        </button>
      ))}
    </div>
  );
}

import type { CatalogueItem } from '../../api/operations.ts';
import { dayAndTime, placeName } from '../format.ts';
import { changeWorksheet, type Station } from '../state/station.ts';
import { cellOf, type Worksheet, type PlaceEntry, type Point, withPlace } from '../state/worksheet.ts';
import { placeId } from '../state/feed.ts';
import type { PointGroup } from '../state/points.ts';
import { isMeasurable, partsOf } from '../state/read-typed.ts';
import { text } from '../text.ts';
import { CornerMark } from './corner-mark.tsx';
import { Declared } from './declared.tsx';
import { Marks } from './marks.tsx';
import { Photos } from './photos.tsx';
import { ValueField } from './value-field.tsx';

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
    <ValueField item={catalogue} cell={cell} name={name} entry={entry} point={point} onChange={change} />
  );
  const isOpen = isShown(point, catalogue);
  return (
    <div class="place-row stack" id={placeId(cell)} tabIndex={-1} role="group" aria-label={name}>
      <PlaceHead point={point} catalogue={catalogue} />
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

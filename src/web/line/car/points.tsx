import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { changeWorksheet, type Station } from '../state/station.ts';
import { cellOf, type Worksheet, isLookedAt, withPlace } from '../state/worksheet.ts';
import { focusWhenDrawn, placeId, wantedCell } from '../state/feed.ts';
import { isRequired, type PointGroup, sectionsOf } from '../state/points.ts';
import { rejectedAt } from '../state/rejection.ts';
import { WorkItOut } from '../../workshop/link.tsx';
import { text } from '../text.ts';
import { commonLimits, LimitSentences, PlaceRow } from './place-row.tsx';

const { t } = text;

export interface PointsProps {
  station: Station;
  worksheet: Worksheet;
}

/** What to look at: first what rules and symptoms ask for, then the usual, by area. */
export function Points({ station, worksheet }: PointsProps) {
  const { always, first, usual } = sectionsOf(worksheet.claim.pointsToCheck, station.items.value);
  const refused = rejectedAt(worksheet, station.items.value);
  const wanted = wantedCell.value;
  useEffect(() => {
    if (wanted === undefined) return;
    focusWhenDrawn(placeId(wanted));
  }, [wanted]);
  return (
    <>
      {always.length > 0 && (
        <section class="stack" aria-labelledby="always-heading">
          <h2 id="always-heading">{t('points.always')}</h2>
          <p class="soft number">{t('points.seen', countSeen(worksheet, always))}</p>
          <div class="cards">
            {always.map((group) => (
              <PointCard key={group.id} station={station} worksheet={worksheet} group={group} refused={refused} />
            ))}
          </div>
        </section>
      )}
      <section class="stack" aria-labelledby="first-heading">
        <h2 id="first-heading">{t('points.first')}</h2>
        {first.length === 0 && <p>{t('points.first.none')}</p>}
        <div class="cards">
          {first.map((group) => (
            <PointCard key={group.id} station={station} worksheet={worksheet} group={group} refused={refused} />
          ))}
        </div>
      </section>
      <section class="stack" aria-labelledby="usual-heading">
        <h2 id="usual-heading">{t('points.usual')}</h2>
        {usual.map(({ area, groups }) => (
          <Area key={area} station={station} worksheet={worksheet} area={area} groups={groups} refused={refused} />
        ))}
      </section>
    </>
  );
}

function countSeen(worksheet: Worksheet, groups: readonly PointGroup[]): { seen: number; count: number } {
  const isDone = ({ points }: PointGroup) => points.every((point) => isLookedAt(worksheet.places[cellOf(point)]));
  return { seen: groups.filter(isDone).length, count: groups.length };
}

interface AreaProps extends PointsProps {
  area: string;
  groups: readonly PointGroup[];
  refused: ReadonlyMap<string, readonly string[]>;
}

/** One area of the car; its points are drawn when it is open. */
function Area({ station, worksheet, area, groups, refused }: AreaProps) {
  const open = useSignal(false);
  const cells = groups.flatMap(({ points }) => points.map(cellOf));
  const seen = cells.filter((cell) => isLookedAt(worksheet.places[cell])).length;
  const wanted = wantedCell.value;
  useEffect(() => {
    if (wanted !== undefined && cells.includes(wanted)) open.value = true;
  }, [wanted]);
  return (
    <details
      class="area"
      open={open.value}
      onToggle={(event) => {
        open.value = event.currentTarget.open;
      }}
    >
      <summary>
        <h3>{t(`area.${area}` as 'area.engine')}</h3>
        <span class="soft number">{t('points.seen', { seen, count: cells.length })}</span>
      </summary>
      {open.value && (
        <div class="cards">
          {groups.map((group) => (
            <PointCard key={group.id} station={station} worksheet={worksheet} group={group} refused={refused} />
          ))}
        </div>
      )}
    </details>
  );
}

interface Props {
  station: Station;
  worksheet: Worksheet;
  group: PointGroup;
  /** what the server refused, by place */
  refused: ReadonlyMap<string, readonly string[]>;
}

/** One thing to look at, with all places where it is looked at. */
function PointCard({ station, worksheet, group, refused }: Props) {
  const { id, label, why, catalogue, points } = group;
  // In the second section it stands below its area.
  const isAlways = points[0]?.asked === 'always';
  const Heading = why.length > 0 || isAlways ? 'h3' : 'h4';
  const mustLook = points.some(isRequired);
  return (
    <div class={`panel point stack${mustLook ? ' required' : ''}`} role="group" aria-labelledby={id}>
      <div>
        <Heading id={id}>{label}</Heading>
        {mustLook && !isAlways && <p class="must">{t('points.required')}</p>}
        {why.map((reason) => (
          <p key={reason}>{reason}</p>
        ))}
        <LimitSentences sentences={commonLimits(group, worksheet.limits)} />
        {catalogue !== undefined && <p class="soft help">{catalogue.help}</p>}
        {why.length > 0 && (
          <p>
            <WorkItOut
              from="line"
              items={points.map(({ item }) => item)}
              entryId={worksheet.claim.entryId}
              about={label}
            />
          </p>
        )}
      </div>
      {points.length > 1 && (
        <button type="button" class="glove" onClick={() => void allOk(station, worksheet, group)}>
          {t('points.all-ok', { count: points.length })}
        </button>
      )}
      <Places station={station} worksheet={worksheet} group={group} refused={refused} />
    </div>
  );
}

/** Many places that nothing points at wait behind one line; whoever finds something opens it. */
function Places({ station, worksheet, group, refused }: Props) {
  const { points, why } = group;
  const cells = points.map(cellOf);
  const isAlways = points[0]?.asked === 'always';
  const open = useSignal(points.length === 1 || why.length > 0 || isAlways);
  const wanted = wantedCell.value;
  useEffect(() => {
    if (wanted !== undefined && cells.includes(wanted)) open.value = true;
  }, [wanted]);
  const rows = points.map((point) => (
    <PlaceRow
      key={cellOf(point)}
      station={station}
      worksheet={worksheet}
      point={point}
      group={group}
      refused={refused.get(cellOf(point)) ?? []}
    />
  ));
  if (points.length === 1 || isAlways) return rows;
  const seen = cells.filter((cell) => isLookedAt(worksheet.places[cell])).length;
  const bad = cells.filter((cell) => worksheet.places[cell]?.mark === 'not-ok').length;
  return (
    <details
      open={open.value}
      onToggle={(event) => {
        open.value = event.currentTarget.open;
      }}
    >
      <summary>
        <span>{t('points.places')}</span>
        <span class="soft number">
          {t('points.seen', { seen, count: cells.length })}
          {bad > 0 && <strong class="bad-count"> {t('points.bad', { count: bad })}</strong>}
        </span>
      </summary>
      {open.value && <div class="places">{rows}</div>}
    </details>
  );
}

/** Marks every place that has no mark yet; one that was found not ok stays so. */
function allOk(station: Station, { claimId }: Worksheet, { points }: PointGroup): Promise<void> {
  return changeWorksheet(station, claimId, (worksheet) =>
    points.reduce((changed, point) => {
      const cell = cellOf(point);
      return changed.places[cell]?.mark === undefined ? withPlace(changed, cell, { mark: 'ok' }) : changed;
    }, worksheet),
  );
}

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Desk } from '../state/desk.ts';
import { cellOf, type Draft, isLookedAt } from '../state/draft.ts';
import { focusWhenDrawn, placeId, wantedCell } from '../state/focus.ts';
import { type PointGroup, sectionsOf } from '../state/points.ts';
import { refusedAt } from '../state/refusal.ts';
import { text } from '../text.ts';
import { PointCard } from './point-card.tsx';

const { t } = text;

export interface PointsProps {
  desk: Desk;
  draft: Draft;
}

/** What to look at: first what rules and symptoms ask for, then the usual, by area. */
export function Points({ desk, draft }: PointsProps) {
  const { first, usual } = sectionsOf(draft.claim.pointsToCheck, desk.items.value);
  const refused = refusedAt(draft, desk.items.value);
  const wanted = wantedCell.value;
  useEffect(() => {
    if (wanted === undefined) return;
    focusWhenDrawn(placeId(wanted));
  }, [wanted]);
  return (
    <>
      <section class="stack" aria-labelledby="first-heading">
        <h2 id="first-heading">{t('points.first')}</h2>
        {first.length === 0 && <p>{t('points.first.none')}</p>}
        <div class="cards">
          {first.map((group) => (
            <PointCard key={group.id} desk={desk} draft={draft} group={group} refused={refused} />
          ))}
        </div>
      </section>
      <section class="stack" aria-labelledby="usual-heading">
        <h2 id="usual-heading">{t('points.usual')}</h2>
        {usual.map(({ area, groups }) => (
          <Area key={area} desk={desk} draft={draft} area={area} groups={groups} refused={refused} />
        ))}
      </section>
    </>
  );
}

interface AreaProps extends PointsProps {
  area: string;
  groups: readonly PointGroup[];
  refused: ReadonlyMap<string, readonly string[]>;
}

/** One area of the car; its points are drawn when it is open. */
function Area({ desk, draft, area, groups, refused }: AreaProps) {
  const open = useSignal(false);
  const cells = groups.flatMap(({ points }) => points.map(cellOf));
  const seen = cells.filter((cell) => isLookedAt(draft.places[cell])).length;
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
            <PointCard key={group.id} desk={desk} draft={draft} group={group} refused={refused} />
          ))}
        </div>
      )}
    </details>
  );
}

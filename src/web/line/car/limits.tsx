import { isNear } from '../../../domain/positions.ts';
import type { ClaimLimits } from '../../api/operations.ts';
import { saysText } from '../../shared/says.ts';
import type { PointGroup } from '../state/points.ts';
import type { Point } from '../state/worksheet.ts';

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

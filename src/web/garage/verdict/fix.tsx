import type { Finding } from '../../api/operations.ts';
import { useGarage } from '../context.ts';
import { markOfCounts } from '../item/mark.tsx';
import { type FixGroup, fixOf } from '../kept/asked.ts';
import { itemId } from '../kept/cells.ts';
import { text } from '../text.ts';
import { WorkItOut } from '../../workshop/link.tsx';
import { Explanation } from './explanation.tsx';
import { decimalsOfItem, limitText, marginText, measuredText, messageText, positionName } from './say.ts';
import { text as after } from './text.ts';

const WIDTH = 200;

interface Scale {
  measured: number;
  min: number | undefined;
  max: number | undefined;
  at(value: number): number;
}

/** Where value and limits lie on a line; undefined when there are no numbers of one unit to show. */
function scaleOf({ measured, bounds }: Finding): Scale | undefined {
  if (bounds === undefined || typeof measured?.value !== 'number') return undefined;
  const [min, max] = [bounds.min?.value, bounds.max?.value];
  if ((bounds.min ?? bounds.max)?.unit !== measured.unit) return undefined;
  const points = [measured.value, min, max].filter((one) => one !== undefined);
  return { measured: measured.value, min, max, at: lineThrough(points) };
}

/** Lays numbers out on the bar, with room at both ends; nothing that cannot be negative is shown below 0. */
function lineThrough(points: readonly number[]): Scale['at'] {
  const [low, high] = [Math.min(...points), Math.max(...points)];
  const room = (high - low || Math.abs(high) || 1) * 0.35;
  const from = low >= 0 ? Math.max(0, low - room) : low - room;
  const span = high + room - from;
  return (value) => ((value - from) / span) * WIDTH;
}

/** Value against limit, with the same said in words: outside is hatched, the limit is a line, the value a pointer. */
function MarginBar({ finding, decimals }: { finding: Finding; decimals: number }) {
  const scale = scaleOf(finding);
  const said = [measuredText(finding, decimals), limitText(finding, decimals), marginText(finding, decimals)].filter(
    (one) => one !== undefined,
  );
  return (
    <div class="margin">
      {scale !== undefined && <Drawing scale={scale} isMet={finding.result === 'met'} />}
      <p>{said.length === 0 ? t(`result.${finding.result}`) : said.join(' · ')}</p>
    </div>
  );
}

function Drawing({ scale, isMet }: { scale: Scale; isMet: boolean }) {
  const { measured, min, max, at } = scale;
  const value = at(measured);
  const from = min === undefined ? 0 : at(min);
  const to = max === undefined ? WIDTH : at(max);
  return (
    <svg
      class={`margin-bar ${isMet ? 'good' : 'bad'}`}
      viewBox={`0 0 ${WIDTH} 34`}
      aria-hidden="true"
      focusable="false"
    >
      <rect class="outside" x="0" y="14" width={WIDTH} height="10" />
      <path class="hatch" d={hatch(0, from) + hatch(to, WIDTH)} />
      <rect class="inside" x={from} y="14" width={Math.max(0, to - from)} height="10" />
      {min !== undefined && <path class="limit" d={`M${from} 8v22`} />}
      {max !== undefined && <path class="limit" d={`M${to} 8v22`} />}
      <path class="pointer" d={`M${value} 13l-6 -11h12z`} />
    </svg>
  );
}

/** Slanted strokes over a stretch of the bar. */
function hatch(from: number, to: number): string {
  let path = '';
  for (let x = from + 2; x + 6 <= to; x += 7) path += `M${x.toFixed(1)} 23l6 -8`;
  return path;
}

const { t } = text;

/** What is wrong, where and by how much, and what to do about it. */
export function Fix({ fix, inspectionId }: { fix: FixGroup; inspectionId: string }) {
  const { worst, findings } = fix;
  const places = findings.flatMap(({ position }) => (position === undefined ? [] : [positionName(position)]));
  const what = fixOf(worst);
  return (
    <li class={`stack fix ${markOfCounts(worst.counts)}`}>
      <p>
        <strong>{worst.title}</strong>
        {places.length > 0 && ` (${places.join('; ')})`}{' '}
        <span class={`tag ${worst.counts}`}>{t(worst.counts === 'no' ? 'counts.no' : `tag.${worst.counts}`)}</span>
        <br />
        {what === '' ? messageText(worst.message) : what}
      </p>
      <details>
        <summary>
          {after.t('fix.more')} <span class="unseen">{worst.title}</span>
        </summary>
        <div class="stack">
          {what !== '' && <p>{messageText(worst.message)}</p>}
          {findings.map((finding) => (
            <Where key={finding.position ?? ''} finding={finding} />
          ))}
          {worst.conceded !== undefined && <p>{t('conceded.until', { condition: worst.conceded.condition ?? '' })}</p>}
          <div class="row no-print">
            <ToItem finding={worst} />
            <Explanation inspectionId={inspectionId} ruleId={fix.ruleId} title={worst.title} />
            <WorkItOut from="garage" items={worst.items} about={worst.title} />
          </div>
        </div>
      </details>
    </li>
  );
}

function Where({ finding }: { finding: Finding }) {
  const { declaration } = useGarage();
  const item = declaration.items.value.find(({ key }) => key === finding.items[0]);
  const hasValue = finding.measured !== undefined;
  if (finding.position === undefined && !hasValue) return null;
  return (
    <div class="where">
      {finding.position !== undefined && <strong>{positionName(finding.position)}</strong>}
      {hasValue && <MarginBar finding={finding} decimals={decimalsOfItem(item)} />}
    </div>
  );
}

/** Back to the question that a finding is about. */
function ToItem({ finding }: { finding: Finding }) {
  const { declaration, go } = useGarage();
  const item = declaration.items.value.find(({ key }) => finding.items.includes(key));
  if (item === undefined || !declaration.open.value) return null;
  return (
    <button type="button" onClick={() => go({ name: 'area', area: item.area }, itemId(item.key))}>
      {t('fix.change')} <span class="unseen">{finding.title}</span>
    </button>
  );
}

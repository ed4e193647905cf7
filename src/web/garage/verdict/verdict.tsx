import type { EntryView, Finding, InspectionView } from '../../api/operations.ts';
import type { FormView } from '../kept/form.ts';
import { withClockTimes } from '../../shared/times.ts';
import { useGarage } from '../context.ts';
import { Explanation } from './explanation.tsx';
import { itemId } from '../kept/cells.ts';
import { Mark, markOfCounts, markOfVerdict } from '../item/mark.tsx';
import { fixesOf, type FixGroup, fixOf } from '../kept/asked.ts';
import { decimalsOfItem, limitText, marginText, measuredText, positionName, timeText } from './say.ts';
import { Sheet } from '../sheet.tsx';
import { text } from '../text.ts';

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

const PARTS = ['bar', 'inspect', 'advise'] as const;

/** What to fix, in order of importance. */
function FixList({ inspection }: { inspection: InspectionView }) {
  const fixes = fixesOf(inspection.findings);
  return (
    <>
      {PARTS.map((counts) => {
        const part = fixes.filter(({ worst }) => worst.counts === counts);
        if (part.length === 0) return null;
        return (
          <section key={counts} class="stack" aria-labelledby={`fix-${counts}`}>
            <h3 id={`fix-${counts}`} class={`part ${markOfCounts(counts)}`}>
              <Mark kind={markOfCounts(counts)} /> {t(`fix.${counts}`, { count: part.length })}
            </h3>
            <ol class="stack plain">
              {part.map((fix) => (
                <Fix key={`${fix.ruleId} ${fix.worst.message}`} fix={fix} inspectionId={inspection.inspectionId} />
              ))}
            </ol>
          </section>
        );
      })}
    </>
  );
}

function Fix({ fix, inspectionId }: { fix: FixGroup; inspectionId: string }) {
  const { worst, findings } = fix;
  return (
    <li class={`panel stack fix ${markOfCounts(worst.counts)}`}>
      <h4>{worst.title}</h4>
      <p>
        {worst.message}
        {fixOf(worst) !== '' && (
          <>
            {' '}
            <strong>{fixOf(worst)}</strong>
          </>
        )}
      </p>
      {findings.map((finding) => (
        <Where key={finding.position ?? ''} finding={finding} />
      ))}
      {worst.conceded !== undefined && <p>{t('conceded.until', { condition: worst.conceded.condition ?? '' })}</p>}
      <div class="row no-print">
        <ToItem finding={worst} />
        <Explanation inspectionId={inspectionId} ruleId={fix.ruleId} title={worst.title} />
      </div>
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

const { t } = text;

/** What became of a submission: verdict, what to fix, what happens next, and the sheet for the line. */
export function Verdict({ form, inspection }: { form: FormView; inspection: InspectionView }) {
  const { declaration, go } = useGarage();
  const entry = declaration.entry.value;
  const kind = markOfVerdict(inspection.verdict);
  return (
    <>
      <section class="stack" aria-labelledby="verdict">
        <div class={`big-verdict ${kind}`}>
          <Mark kind={kind} />
          <h2 id="verdict" tabIndex={-1}>
            {t(`verdict.${inspection.verdict}`)}
          </h2>
        </div>
        <p class="soft">
          {t('verdict.revision', {
            revision: inspection.revision,
            at: timeText(inspection.submittedAt, form.event.timeZone),
          })}
        </p>
        {inspection.cause === 'rejudged' && <p class="notice look">{t('verdict.rejudged')}</p>}
        <Next inspection={inspection} />
        {entry !== undefined && <Clearance entry={entry} form={form} />}
        <FixList inspection={inspection} />
      </section>
      <div class="row no-print">
        {declaration.open.value && (
          <button type="button" onClick={() => go({ name: 'walk' })}>
            {t('verdict.edit')}
          </button>
        )}
        <button type="button" class="primary" onClick={() => globalThis.print()}>
          {t('verdict.print')}
        </button>
      </div>
      {declaration.open.value && <p class="no-print">{t('verdict.edit.says')}</p>}
      <Sheet form={form} inspection={inspection} />
    </>
  );
}

function Next({ inspection }: { inspection: InspectionView }) {
  const { declaration } = useGarage();
  const status = declaration.entry.value?.clearance.status;
  if (inspection.ticket !== null) {
    const { place } = inspection.ticket;
    return <p class="notice">{place === 1 ? t('next.first') : t('next.place', { place })}</p>;
  }
  if (inspection.verdict === 'barred' && status !== 'withdrawn') return <p class="notice bad">{t('next.barred')}</p>;
  return null;
}

/** What the gate says of the car now, in words. */
function Clearance({ entry, form }: { entry: EntryView; form: FormView }) {
  const { declaration } = useGarage();
  // Nobody else knows of it yet, and what they would say does not count.
  if ((declaration.stops.value?.waiting.value.length ?? 0) > 0) return null;
  const { status, reason, admit, validUntil, conditions } = entry.clearance;
  const zone = form.event.timeZone;
  return (
    <section class={`notice stack ${admit ? 'good' : 'look'}`} aria-labelledby="clearance">
      <h3 id="clearance">{t('clearance.title')}</h3>
      <p>
        <strong>{t(`clearance.${status}`)}</strong> {withClockTimes(reason, zone)}
      </p>
      {validUntil !== null && <p>{t('clearance.until', { at: timeText(validUntil, zone) })}</p>}
      {conditions.length > 0 && (
        <ul>
          {conditions.map(({ id, text: condition, dueAt }) => (
            <li key={id}>
              {condition}
              {dueAt !== undefined && ` (${t('clearance.due', { at: timeText(dueAt, zone) })})`}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

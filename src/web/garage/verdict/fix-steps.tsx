import { type FixStep, type Job, orderFixes } from '../../../domain/prepare/fix-order.ts';
import type { Finding, InspectionView } from '../../api/operations.ts';
import { Mark, markOfCounts } from '../item/mark.tsx';
import { type FixGroup, fixesOf } from '../kept/asked.ts';
import { text as page } from '../text.ts';
import { Fix } from './fix.tsx';
import { positionName } from './say.ts';
import { text } from './text.ts';

const { t } = text;
type Key = Parameters<typeof t>[0];

/** "About 2 h 40 min", in steps of five: nobody knows it better. */
export function durationText(minutes: number): string {
  const rounded = Math.max(5, Math.ceil(minutes / 5) * 5);
  const [hours, left] = [Math.floor(rounded / 60), rounded % 60];
  if (hours === 0) return t('minutes', { minutes: left });
  return left === 0 ? t('hours', { hours }) : t('hours-minutes', { hours, minutes: left });
}

/** The titles of findings with their places, each once. */
function Titles({ fixes }: { fixes: readonly FixGroup[] }) {
  return (
    <ul>
      {fixes.map(({ ruleId, worst, findings }) => {
        const places = findings.flatMap(({ position }) => (position === undefined ? [] : [positionName(position)]));
        return (
          <li key={`${ruleId} ${worst.message}`}>
            {worst.title}
            {places.length > 0 && ` (${places.join('; ')})`}
          </li>
        );
      })}
    </ul>
  );
}

/** What keeps the car off the track, or what the line will look at, in a few words. */
export function Why({ findings, counts }: { findings: readonly Finding[]; counts: 'bar' | 'inspect' }) {
  const fixes = fixesOf(findings).filter(({ worst }) => worst.counts === counts);
  if (fixes.length === 0) return null;
  return (
    <section class="stack" aria-labelledby={`why-${counts}`}>
      <h3 id={`why-${counts}`} class={`part ${markOfCounts(counts)}`}>
        <Mark kind={markOfCounts(counts)} /> {page.t(`fix.${counts}`, { count: fixes.length })}
      </h3>
      <Titles fixes={fixes} />
      {counts === 'inspect' && <p class="soft">{t('looked.says')}</p>}
    </section>
  );
}

/** What a part is for, in a few words: the rest stands with the work. */
function titlesOf(findings: readonly Finding[]): string {
  const titles = [...new Set(findings.map(({ title }) => title))];
  return titles.length > 2
    ? t('order.and-more', { title: titles[0] ?? '', count: titles.length - 1 })
    : titles.join('; ');
}

/** What to put right, in the order that takes least time: what is waited for first, and each thing opened once. */
export function FixSteps({ inspection }: { inspection: InspectionView }) {
  const sorted = fixesOf(inspection.findings).flatMap(({ findings }) => findings);
  const { order, steps, toRead, minutes, saves } = orderFixes(sorted);
  return (
    <>
      {order.length > 0 && (
        <section class="panel stack" aria-labelledby="order">
          <h3 id="order">{t('order.title')}</h3>
          <p>{t('order.says')}</p>
          <ul>
            {order.map(({ part, days, findings }) => (
              <li key={part}>
                <strong>{t(`part.${part}`)}</strong>: {t('order.days', { count: days })}
                {findings.length > 0 && ` (${titlesOf(findings)})`}
              </li>
            ))}
          </ul>
        </section>
      )}
      {steps.length > 0 && (
        <section class="stack" aria-labelledby="steps">
          <h3 id="steps">{t('steps.title', { time: durationText(minutes) })}</h3>
          <p>
            {t('steps.says')} {saves > 0 && t('steps.saves', { time: durationText(saves) })}
          </p>
          <ol class="stack plain">
            {steps.map((step, index) => (
              <Step key={`${step.opening} ${step.axle}`} step={step} number={index + 1} of={inspection} />
            ))}
          </ol>
        </section>
      )}
      {toRead.length > 0 && <ToRead findings={toRead} />}
    </>
  );
}

/** Facts of the car that nobody has confirmed: said, so that nobody looks for what he left unanswered. */
function ToRead({ findings }: { findings: readonly Finding[] }) {
  return (
    <section class="stack" aria-labelledby="to-read">
      <h3 id="to-read">{t('read.title')}</h3>
      <p>{t('read.says')}</p>
      <Titles fixes={fixesOf(findings)} />
    </section>
  );
}

function Step({ step, number, of }: { step: FixStep<Finding>; number: number; of: InspectionView }) {
  const { opening, axle, wheels, minutes, jobs } = step;
  const name = t((axle === undefined ? `step.${opening}` : `step.wheels.${axle}`) as Key);
  return (
    <li class="panel stack step">
      <h4>
        {t('step.is', { number, name, time: durationText(minutes) })}
        {wheels.length === 1 && ` (${wheels.map(positionName).join('; ')})`}
      </h4>
      {jobs.map((job) => (
        <JobPart key={job.job} job={job} inspectionId={of.inspectionId} />
      ))}
    </li>
  );
}

function JobPart({ job, inspectionId }: { job: Job<Finding>; inspectionId: string }) {
  return (
    <div class="stack job">
      <p>
        <strong>{t(`job.${job.job}` as Key)}</strong>
        {job.part !== undefined && ` · ${t('job.part', { part: t(`part.${job.part}`) })}`}
        {job.findings.length === 0 && ` · ${t('job.follows')}`}
      </p>
      {job.findings.length > 0 && (
        <ul class="stack plain">
          {fixesOf(job.findings).map((fix) => (
            <Fix key={`${fix.ruleId} ${fix.worst.message}`} fix={fix} inspectionId={inspectionId} />
          ))}
        </ul>
      )}
    </div>
  );
}

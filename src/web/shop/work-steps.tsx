import { type FixStep, orderFixes } from '../../domain/prepare/fix-order.ts';
import type { Finding } from '../api/operations.ts';
import { durationText } from '../garage/verdict/fix-steps.tsx';
import { positionName } from '../garage/verdict/say.ts';
import { text as after } from '../garage/verdict/text.ts';
import { partName } from './cars.tsx';
import type { ShopWork } from './shop-sync.ts';
import { linesOf } from './work.tsx';

type Key = Parameters<typeof after.t>[0];

/** The work in the order that takes least time: what is waited for first, each thing opened once, by the fewest jobs. */
export function WorkSteps({ work }: { work: ShopWork }) {
  const rules = new Set(linesOf(work).map(({ ruleId }) => ruleId));
  const found = work.declaration.judged.value.filter(({ ruleId, result }) => result === 'not-met' && rules.has(ruleId));
  const { order, steps, minutes } = orderFixes(found);
  if (steps.length === 0) return null;
  const title = after.t('steps.title', { time: durationText(minutes) });
  return (
    <section class="panel stack work-steps" aria-label={title}>
      <h3>{title}</h3>
      {order.length > 0 && (
        <p>
          <strong>{after.t('order.title')}:</strong>{' '}
          {order.map(({ part, days }) => `${partName(part)} (${after.t('order.days', { count: days })})`).join('; ')}
        </p>
      )}
      <ol>
        {steps.map((step) => (
          <li key={`${step.opening} ${step.axle}`}>{stepText(step)}</li>
        ))}
      </ol>
      <p class="soft">{after.t('steps.says')}</p>
    </section>
  );
}

/** "Front wheels off, on stands, about 1 h: Pads (Brake pad thickness)" */
function stepText({ opening, axle, wheels, minutes, jobs }: FixStep<Finding>): string {
  const name = after.t((axle === undefined ? `step.${opening}` : `step.wheels.${axle}`) as Key);
  const where = wheels.length === 1 ? ` (${wheels.map(positionName).join('; ')})` : '';
  const done = jobs.map(({ job, findings }) => {
    const titles = [...new Set(findings.map((finding) => finding.title))];
    return `${after.t(`job.${job}` as Key)}${titles.length === 0 ? '' : ` (${titles.join('; ')})`}`;
  });
  return `${name}${where}, ${durationText(minutes)}: ${done.join(', ')}`;
}

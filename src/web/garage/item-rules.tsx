import type { Finding } from '../api/operations.ts';
import type { FormItem } from './asked.ts';
import { countAnswers, placesOf } from './asked.ts';
import { useGarage } from './context.ts';
import { Mark, markOfCounts } from './mark.tsx';
import { fixesOf, fixOf, isAbout } from './order.ts';
import { decimalsOfItem, positionName } from './say.ts';
import { limitText } from './say-finding.ts';
import { text } from './text.ts';

const { t } = text;

interface Asked {
  title: string;
  effect: Finding['effect'];
  limit: string | undefined;
  positions: string[];
  conceded: string | undefined;
}

/** The limits of the run group, one line for each; places are named where they differ. */
export function ItemLimits({ item }: { item: FormItem }) {
  const { desk } = useGarage();
  const own = new Set(desk.findings.value.filter((one) => isAbout(one, item.key)).map(({ ruleId }) => ruleId));
  const all = linesOf(
    item,
    item.rules.filter(({ ruleId }) => own.has(ruleId)),
  );
  if (all.length === 0) return null;
  return (
    <ul class="limits">
      {all.map((line) => (
        <Line key={`${line.title} ${line.limit}`} line={line} all={all} />
      ))}
    </ul>
  );
}

function linesOf(item: FormItem, rules: FormItem['rules']): Asked[] {
  const lines = new Map<string, Asked>();
  for (const rule of rules) {
    const limit = limitText(rule, decimalsOfItem(item));
    const name = `${rule.ruleId}\n${limit ?? ''}`;
    const line = lines.get(name) ?? {
      title: rule.title,
      effect: rule.effect,
      limit,
      positions: [],
      conceded: rule.concession?.reason,
    };
    if (rule.position !== undefined) line.positions.push(rule.position);
    lines.set(name, line);
  }
  return [...lines.values()];
}

function Line({ line, all }: { line: Asked; all: readonly Asked[] }) {
  const { title, limit, effect, positions, conceded } = line;
  const differs = positions.length > 0 && all.some((other) => other !== line && other.title === title);
  return (
    <li>
      {title}
      {limit !== undefined && (
        <>
          {': '}
          <strong>{limit}</strong>
        </>
      )}
      {differs && ` (${positions.map(positionName).join('; ')})`}
      <span class="soft"> · {t(`else.${effect}`)}</span>
      {conceded !== undefined && <span> · {t('conceded', { reason: conceded })}</span>}
    </li>
  );
}

/** What is still missing of an item, and what is wrong and to be done about it. */
export function ItemFindings({ item }: { item: FormItem }) {
  const { desk } = useGarage();
  const { asked, given } = countAnswers(item, (cell) => desk.cells.value[cell] !== undefined);
  const own = desk.findings.value.filter((finding) => isAbout(finding, item.key));
  const isOpen = given < asked;
  const isStuck = placesOf(item).some(({ cell }) => desk.faults.value[cell] !== undefined);
  const fixes = fixesOf(own).filter(({ worst }) => worst.result === 'not-met' || (!isOpen && !isStuck));
  return (
    <>
      {isOpen && (
        <p class="state">
          <Mark kind="open" />{' '}
          {asked === 1 ? t('state.missing') : t('state.missing-of', { count: asked - given, asked })}
        </p>
      )}
      {fixes.map(({ worst, findings }) => (
        <p key={`${worst.ruleId} ${worst.message}`} class={`finding ${markOfCounts(worst.counts)}`}>
          <Mark kind={markOfCounts(worst.counts)} />{' '}
          <span>
            <strong>{t(`counts.${worst.counts}`)}</strong>
            {worst.position !== undefined &&
              ` (${findings.map(({ position }) => positionName(position ?? '')).join('; ')})`}
            {': '}
            {worst.message} {fixOf(worst)}
          </span>
        </p>
      ))}
    </>
  );
}

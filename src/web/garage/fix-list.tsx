import type { Finding, InspectionView } from '../api/operations.ts';
import { useGarage } from './context.ts';
import { Explanation } from './explanation.tsx';
import { itemId } from './field-id.ts';
import { MarginBar } from './margin-bar.tsx';
import { Mark, markOfCounts } from './mark.tsx';
import { type FixGroup, fixesOf, fixOf } from './order.ts';
import { decimalsOfItem, positionName } from './say.ts';
import { text } from './text.ts';

const { t } = text;
const PARTS = ['bar', 'inspect', 'advise'] as const;

/** What to fix, in order of importance. */
export function FixList({ inspection }: { inspection: InspectionView }) {
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
  const { desk } = useGarage();
  const item = desk.items.value.find(({ key }) => key === finding.items[0]);
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
  const { desk, go } = useGarage();
  const item = desk.items.value.find(({ key }) => finding.items.includes(key));
  if (item === undefined || !desk.open.value) return null;
  return (
    <button type="button" onClick={() => go({ name: 'area', area: item.area }, itemId(item.key))}>
      {t('fix.change')} <span class="unseen">{finding.title}</span>
    </button>
  );
}

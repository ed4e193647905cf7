import type { Finding } from '../../api/operations.ts';
import { useGarage } from '../context.ts';
import { markOfCounts } from '../item/mark.tsx';
import { type FixGroup, fixOf } from '../kept/asked.ts';
import { itemId } from '../kept/cells.ts';
import { text } from '../text.ts';
import { Explanation } from './explanation.tsx';
import { MarginBar } from './margin-bar.tsx';
import { decimalsOfItem, positionName } from './say.ts';
import { text as after } from './text.ts';

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
        {what === '' ? worst.message : what}
      </p>
      <details>
        <summary>
          {after.t('fix.more')} <span class="unseen">{worst.title}</span>
        </summary>
        <div class="stack">
          {what !== '' && <p>{worst.message}</p>}
          {findings.map((finding) => (
            <Where key={finding.position ?? ''} finding={finding} />
          ))}
          {worst.conceded !== undefined && <p>{t('conceded.until', { condition: worst.conceded.condition ?? '' })}</p>}
          <div class="row no-print">
            <ToItem finding={worst} />
            <Explanation inspectionId={inspectionId} ruleId={fix.ruleId} title={worst.title} />
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

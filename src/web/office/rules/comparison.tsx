import type { FindingSide, NearCase, RuleChange, RunGroupPreview, VerdictFlip } from '../../api/operations.ts';
import { CarLink } from '../overview/holds.tsx';
import { Table } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;
type Result = Pick<RunGroupPreview, 'totals' | 'rules' | 'flips' | 'nearest' | 'truncated'>;

/** What other rules would change: who, by which rule, by how much, and who is near. */
export function Comparison({ result }: { result: Result }) {
  const { totals, flips, nearest, rules, truncated } = result;
  return (
    <>
      <p class={`notice ${totals.flipped > 0 ? 'look' : 'good'}`}>
        {t('compare.totals', { judged: totals.judged, count: totals.flipped })}{' '}
        {t('compare.newly', {
          barred: totals.newlyBarred,
          inspect: totals.newlyToInspect,
          clean: totals.newlyClean,
        })}
      </p>
      {flips.length > 0 && <Flips flips={flips} />}
      {truncated.flips && <p>{t('compare.cut')}</p>}
      <Near caption={t('compare.nearMet')} cases={nearest.met} />
      <Near caption={t('compare.nearNotMet')} cases={nearest.notMet} />
      <ByRule rules={rules} />
    </>
  );
}

function Flips({ flips }: { flips: readonly VerdictFlip[] }) {
  return (
    <Table
      caption={t('compare.flips')}
      head={[t('carNumber'), t('compare.before'), t('compare.after'), t('compare.because')]}
    >
      {flips.map((flip) => (
        <tr key={flip.inspectionId}>
          <th scope="row">
            <CarLink entryId={flip.entryId} carNumber={flip.carNumber} runGroup="" />
          </th>
          <td>{t(`verdict.${flip.before}`)}</td>
          <td>{t(`verdict.${flip.after}`)}</td>
          <td>
            <ul class="plain">
              {flip.because.map((change) => (
                <li key={`${change.ruleId} ${change.position ?? ''}`}>
                  {change.title}
                  {change.position !== undefined && `, ${change.position}`}: {changeText(change)}
                </li>
              ))}
              {flip.moreChanges !== undefined && <li>{t('compare.moreRules', { count: flip.moreChanges })}</li>}
            </ul>
          </td>
        </tr>
      ))}
    </Table>
  );
}

const changeText = ({ before, after }: RuleChange): string => `${sideText(before)} → ${sideText(after)}`;

function sideText(side: FindingSide | undefined): string {
  if (side === undefined) return t('compare.notJudged');
  const { result, measured, limit, margin } = side;
  const value = measured === undefined ? '' : ` ${String(measured.value)} ${measured.unit ?? ''}`;
  const asked = limit === undefined ? '' : ` (${limit})`;
  const distance = margin === undefined ? '' : ` ${t('compare.margin', { margin: marginText(margin) })}`;
  return `${t(`result.${result}`)}${value}${asked}${distance}`;
}

const marginText = ({ value, unit }: { value: number; unit: string }): string =>
  `${Math.round(value * 1000) / 1000} ${unit}`;

function Near({ caption, cases }: { caption: string; cases: readonly NearCase[] }) {
  if (cases.length === 0) return null;
  return (
    <details>
      <summary>{caption}</summary>
      <Table
        caption={caption}
        head={[t('carNumber'), t('rule'), t('inspections.measured'), t('inspections.limit'), t('compare.distance')]}
      >
        {cases.map((one) => (
          <tr key={`${one.inspectionId} ${one.ruleId} ${one.position ?? ''}`}>
            <th scope="row" class="number">
              {one.carNumber}
            </th>
            <td>
              {one.title}
              {one.position !== undefined && `, ${one.position}`}
            </td>
            <td class="number">{one.measured}</td>
            <td class="number">{one.limit}</td>
            <td class="number">{marginText(one.margin)}</td>
          </tr>
        ))}
      </Table>
    </details>
  );
}

function ByRule({ rules }: { rules: Result['rules'] }) {
  return (
    <details>
      <summary>{t('compare.rules', { count: rules.length })}</summary>
      <Table
        caption={t('compare.rules', { count: rules.length })}
        head={[
          t('rule'),
          t('result.met'),
          t('result.not-met'),
          t('result.unanswerable'),
          t('compare.newlyNotMet'),
          t('compare.newlyMet'),
          t('compare.flipCount'),
        ]}
      >
        {rules.map((rule) => (
          <tr key={rule.ruleId}>
            <th scope="row">{rule.title}</th>
            <td class="number">{rule.met}</td>
            <td class="number">{rule.notMet}</td>
            <td class="number">{rule.unanswerable}</td>
            <td class="number">{rule.newlyNotMet}</td>
            <td class="number">{rule.newlyMet}</td>
            <td class="number">{rule.flips}</td>
          </tr>
        ))}
      </Table>
    </details>
  );
}

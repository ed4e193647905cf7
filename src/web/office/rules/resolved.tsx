import { call } from '../../api/call.ts';
import { getResolvedRules, type ResolvedRules } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { Table } from '../parts/table.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';

const { t } = text;
const EFFECTS = ['bar', 'inspect', 'advise'] as const;

/** The limits and rules that judge a group, each with where it comes from. */
export function Resolved({ runGroupId, desk, at }: { runGroupId: string; desk: Desk; at: number }) {
  const load = useLoad<ResolvedRules>(`resolved ${runGroupId} ${at}`, async (signal) => {
    return (await call(getResolvedRules, { params: { runGroupId } }, { token: desk.token, signal })).body;
  });
  return (
    <Panel title={t('resolved.title')}>
      <Loaded of={load}>
        {(resolved) => (
          <>
            <p>{t('resolved.of', { name: resolved.name, version: resolved.ruleSetVersion })}</p>
            {resolved.venueRulesAreNewer && <p class="notice look">{t('resolved.venueNewer')}</p>}
            <Parameters parameters={resolved.parameters} />
            <RuleTable rules={resolved.rules} />
          </>
        )}
      </Loaded>
    </Panel>
  );
}

function Parameters({ parameters }: Pick<ResolvedRules, 'parameters'>) {
  return (
    <Table
      caption={t('resolved.limits')}
      head={[t('resolved.limit'), t('resolved.value'), t('resolved.origin'), t('resolved.was')]}
    >
      {parameters.map(({ name, value, unit, meaning, from, was }) => (
        <tr key={name}>
          <th scope="row">
            {meaning} <code>{name}</code>
          </th>
          <td class="number">{valueText(value, unit)}</td>
          <td>{t(`origin.${from}`)}</td>
          <td class="number">{was === undefined ? '' : valueText(was.value, was.unit)}</td>
        </tr>
      ))}
    </Table>
  );
}

function RuleTable({ rules }: Pick<ResolvedRules, 'rules'>) {
  return (
    <Table
      caption={t('resolved.rules')}
      head={[t('rule'), t('resolved.effect'), t('resolved.origin'), t('resolved.changed')]}
    >
      {rules.map(({ rule, from, changed }) => {
        const { id, title } = rule;
        const effect = EFFECTS.find((one) => one === rule['effect']);
        return (
          <tr key={String(id)}>
            <th scope="row">
              {String(title)} <code>{String(id)}</code>
            </th>
            <td>
              {effect !== undefined && t(`effect.${effect}`)}
              {rule['watch'] === true && `, ${t('inspections.watched')}`}
            </td>
            <td>{t(`origin.${from}`)}</td>
            <td>
              {changed !== undefined &&
                t('resolved.changedBy', {
                  who: t(`origin.${changed.by}`),
                  was: t(`effect.${changed.was.effect}`),
                  reason: changed.reason,
                })}
            </td>
          </tr>
        );
      })}
    </Table>
  );
}

function valueText(value: number | string | boolean | readonly string[], unit?: string): string {
  if (typeof value === 'boolean') return value ? t('yes') : t('no');
  return [Array.isArray(value) ? value.join(', ') : String(value), unit ?? ''].join(' ').trim();
}

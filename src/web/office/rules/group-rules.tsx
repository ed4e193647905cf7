import { call } from '../../api/call.ts';
import { getResolvedRules, getRunGroup, type ResolvedRules, type RunGroupView } from '../../api/operations.ts';
import { useGroups } from '../entries/entry-fields.tsx';
import { type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Lazy } from '../parts/lazy.tsx';
import { Link } from '../parts/link.tsx';
import { Loaded, Panel, Table } from '../parts/panel.tsx';
import { text } from '../text.ts';
import { MoveRules, Rejudge } from './move-rules.tsx';

const EFFECTS = ['bar', 'inspect', 'advise'] as const;

/** The limits and rules that judge a group, each with where it comes from. */
function Resolved({ runGroupId, office, at }: { runGroupId: string; office: OfficeContext; at: number }) {
  const load = useLoad<ResolvedRules>(`resolved ${runGroupId} ${at}`, async (signal) => {
    return (await call(getResolvedRules, { params: { runGroupId } }, { token: office.token, signal })).body;
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

const { t } = text;

export interface GroupRead {
  group: RunGroupView;
  etag: string | undefined;
}

/** The rules of one run group: what they are, moving to others, judging anew. */
export function GroupRules({ runGroupId, office }: { runGroupId: string; office: OfficeContext }) {
  const { eventId, token } = office;
  const load = useLoad<GroupRead>(`group ${runGroupId}`, async (signal) => {
    const { body, etag } = await call(getRunGroup, { params: { eventId, runGroupId } }, { token, signal });
    return { group: body, etag };
  });
  const organizer = office.session.role === 'organizer';
  return (
    <Loaded of={load}>
      {({ group, etag }) => (
        <>
          <h3>{group.name}</h3>
          <p>{t('rules.judgedBy', { version: group.ruleSetVersion })}</p>
          <LimitsPart group={group} office={office} onSaved={load.reload} />
          {organizer && <MoveRules {...{ group, etag, office }} onMoved={load.reload} />}
          {organizer && <Rejudge key={group.rulesHash ?? ''} group={group} office={office} />}
          <Resolved runGroupId={runGroupId} office={office} at={load.at ?? 0} />
        </>
      )}
    </Loaded>
  );
}

const loadLimits = () => import('../limits/limits.tsx');

/** The limits as a form, fetched when a group is opened. */
function LimitsPart(props: { group: RunGroupView; office: OfficeContext; onSaved(): void }) {
  return (
    <Lazy name="limits" load={loadLimits}>
      {({ LimitsForm }) => <LimitsForm {...props} />}
    </Lazy>
  );
}

/** The run groups of the event, each a way to the rules that judge it. */
export function GroupList({ office }: { office: OfficeContext }) {
  const groups = useGroups(office);
  return (
    <Panel title={t('rules.groups')}>
      <Loaded of={groups}>
        {(list) => (
          <ul class="plain">
            {list.map(({ runGroupId, name, ruleSetVersion }) => (
              <li key={runGroupId}>
                <Link to={{ section: 'rules', group: runGroupId }} class="car">
                  <strong>{name}</strong> {t('rules.version', { version: ruleSetVersion })}
                </Link>
              </li>
            ))}
          </ul>
        )}
      </Loaded>
    </Panel>
  );
}

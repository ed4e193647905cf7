import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { getLimits, type Limits, type RunGroupView } from '../../api/operations.ts';
import { type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Area, Check, Form, Input, Select } from '../parts/form.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { Comparison } from '../rules/comparison.tsx';
import {
  countOf,
  isOdd,
  type Limit,
  NOTHING,
  previewAll,
  saveAll,
  type Scope,
  SCOPES,
  type Shown,
  type Wanted,
  withEffect,
  withLimit,
} from './changes.ts';
import { EffectRows, LimitRows, limitsText } from './rows.tsx';

const { t } = limitsText;
export { limitsText as text };

interface LimitsFormProps {
  office: OfficeContext;
  group: RunGroupView;
  onSaved(): void;
}

/** Every limit and effect of a run group as a form: what it is, was, may be, and who changes by it before it is saved. */
export function LimitsForm({ office, group, onSaved }: LimitsFormProps) {
  const { token } = office;
  const { runGroupId } = group;
  const load = useLoad<Limits>(`limits ${runGroupId} ${group.rulesHash}`, async (signal) => {
    return (await call(getLimits, { params: { runGroupId } }, { token, signal, timeoutMs: 60_000 })).body;
  });
  return (
    <Panel title={t('title')}>
      <p>{t('why')}</p>
      <Loaded of={load}>{(limits) => <Editor key={group.rulesHash} {...{ office, group, limits, onSaved }} />}</Loaded>
    </Panel>
  );
}

function Editor({ office, group, limits, onSaved }: LimitsFormProps & { limits: Limits }) {
  const [wanted, setWanted] = useState<Wanted>(NOTHING);
  const [search, setSearch] = useState('');
  const [onlyChanged, setOnlyChanged] = useState(false);
  const organizer = office.session.role === 'organizer';
  const words = search.trim().toLowerCase().split(/\s+/);
  const fits = (...texts: readonly string[]): boolean => {
    const all = texts.join(' ').toLowerCase();
    return words.every((word) => all.includes(word));
  };
  const shownLimits = limits.limits.filter(
    (one) =>
      fits(one.meaning, one.name, ...one.usedBy.map(({ title }) => title)) &&
      (!onlyChanged || one.from !== 'rule-set' || one.name in wanted.limits),
  );
  const shownEffects = limits.effects.filter(
    (one) => fits(one.title, one.ruleId) && (!onlyChanged || one.from !== 'rule-set' || one.ruleId in wanted.effects),
  );
  return (
    <>
      <div class="fields">
        <Input type="search" label={t('search')} hint={t('searchHint')} value={search} onValue={setSearch} />
        <Check label={t('onlyChanged')} checked={onlyChanged} onChecked={setOnlyChanged} />
      </div>
      <p role="status">{t('found', { limits: shownLimits.length, rules: shownEffects.length })}</p>
      <LimitRows
        {...{ limits: shownLimits, wanted, disabled: !organizer, points: limits.alwaysLook, zone: office.timeZone }}
        onValue={(limit, value) => setWanted((old) => withLimit(old, limit, value))}
      />
      <EffectRows
        {...{ effects: shownEffects, wanted, disabled: !organizer }}
        onEffect={(row, effect) => setWanted((old) => withEffect(old, row, effect))}
      />
      {countOf(wanted) > 0 && (
        <Save {...{ office, group, limits, wanted, onSaved }} onDrop={() => setWanted(NOTHING)} />
      )}
    </>
  );
}

interface SaveProps extends LimitsFormProps {
  limits: Limits;
  wanted: Wanted;
  onDrop(): void;
}

/** Why, for whom, who would change; only then it can be saved. */
function Save({ office, group, limits, wanted, onSaved, onDrop }: SaveProps) {
  const [reason, setReason] = useState('');
  const [scope, setScope] = useState<Scope>('group');
  const [shown, setShown] = useState<{ of: string; groups: readonly Shown[] }>();
  const asked = { wanted, limits: limits.limits, reason: reason.trim(), scope };
  // What was looked at is what is saved: another change is looked at anew.
  const tag = JSON.stringify(asked);
  const odd = limits.limits.filter((one) => one.name in wanted.limits && isOdd(one, wanted.limits[one.name] ?? null));
  const looked = shown?.of === tag ? shown.groups : undefined;
  return (
    <div class="notice stack save" data-changes={countOf(wanted)}>
      <h4>{t('save.title', { count: countOf(wanted) })}</h4>
      {odd.map((one) => (
        <p key={one.name} class="notice look" data-odd={one.name}>
          {t('save.odd', { meaning: one.meaning, ...rangeOf(one) })}
        </p>
      ))}
      <Form
        label={t('save.look')}
        submit={t('save.look')}
        onCancel={onDrop}
        disabled={asked.reason === ''}
        onSend={async () => setShown({ of: tag, groups: await previewAll(office, group, asked) })}
      >
        <Select
          label={t('save.scope')}
          value={scope}
          onValue={(next) => setScope(SCOPES.find((one) => one === next) ?? 'group')}
          options={SCOPES.map((one) => [one, t(`scope.${one}`, { group: group.name })])}
        />
        <Area
          label={t('save.reason')}
          hint={t('save.reasonHint')}
          pointer="/reason"
          value={reason}
          onValue={setReason}
        />
      </Form>
      {looked !== undefined && (
        <Looked
          groups={looked}
          onSave={async () => {
            await saveAll(office, looked, asked);
            say(t('saved'));
            onSaved();
          }}
        />
      )}
    </div>
  );
}

/** Group by group who would change, and then the saving. */
function Looked({ groups, onSave }: { groups: readonly Shown[]; onSave(): Promise<void> }) {
  return (
    <>
      {groups.map(({ group: { runGroupId, name }, preview }) => (
        <section key={runGroupId} aria-label={name} class="stack" data-shown={name}>
          <h4>{name}</h4>
          {preview.sameRules ? <p>{t('save.same')}</p> : <Comparison result={preview} />}
        </section>
      ))}
      <Form label={t('save.send')} submit={t('save.send')} onSend={onSave}>
        <p>{t('save.how')}</p>
      </Form>
    </>
  );
}

const rangeOf = ({ plausible, unit = '' }: Limit) => ({
  from: plausible?.from ?? 0,
  to: plausible?.to ?? 0,
  unit,
});

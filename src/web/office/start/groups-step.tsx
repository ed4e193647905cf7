import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  type BuiltInRules,
  createRunGroup,
  deleteRunGroup,
  getBuiltInRules,
  getRuleSetVersion,
  listRuleSets,
  listRunGroups,
  type RunGroupInput,
  type RunGroupView,
} from '../../api/operations.ts';
import { fromWallClock, toWallClock } from '../../shared/wall-clock.ts';
import { dayAndTime, type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { Link } from '../parts/link.tsx';
import { Loaded, Panel, Table, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { startText } from './text.ts';

const DAY_MS = 86_400_000;

/** Days after a day, both YYYY-MM-DD. */
export const dayAfter = (day: string, days: number): string =>
  new Date(Date.parse(`${day}T00:00:00.000Z`) + days * DAY_MS).toISOString().slice(0, 10);

export interface EventDefaults {
  startsOn: string;
  endsOn: string;
  opensAt: string;
  closesAt: string;
}

/**
 * What a new event begins with: the Saturday that is at least a week away, so that entrants have time; declarations from
 * now until 18:00 on the day before. Wall clock at the venue.
 */
export function eventDefaults(now: Date, timeZone: string): EventDefaults {
  const clock = toWallClock(now.toISOString(), timeZone);
  const inAWeek = dayAfter(clock.slice(0, 10), 7);
  const weekday = new Date(`${inAWeek}T00:00:00.000Z`).getUTCDay();
  const startsOn = dayAfter(inAWeek, (6 - weekday + 7) % 7);
  return { startsOn, endsOn: startsOn, opensAt: clock, closesAt: `${dayAfter(startsOn, -1)}T18:00` };
}

/** What the run groups of a new event begin with: name by profile, first sessions twenty minutes apart from 09:00. */
const GROUP_PLAN = [
  { profile: 'novice', time: '09:00' },
  { profile: 'intermediate', time: '09:20' },
  { profile: 'advanced', time: '09:40' },
] as const;

const { t } = startText;

interface GroupsStepProps {
  office: OfficeContext;
  onSaved(): void;
}

/** Who shares a session and is judged alike: what is there, and new groups by profile. */
export function GroupsStep({ office, onSaved }: GroupsStepProps) {
  const { eventId, token } = office;
  const load = useLoad(`groups of ${eventId}`, async (signal) => {
    const options = { token, signal };
    const [groups, sets, builtIn] = await Promise.all([
      call(listRunGroups, { params: { eventId } }, options),
      call(listRuleSets, {}, options),
      call(getBuiltInRules, {}, options),
    ]);
    const published = sets.body.ruleSets.filter((one) => one.latestVersion !== undefined);
    return { groups: groups.body.runGroups, published, builtIn: builtIn.body };
  });
  const saved = (): void => {
    load.reload();
    onSaved();
  };
  return (
    <Panel title={t('groups.title')}>
      <p>{t('groups.why')}</p>
      <Loaded of={load}>
        {({ groups, published, builtIn }) => (
          <>
            {groups.length > 0 && <Groups {...{ office, groups }} onSaved={saved} />}
            {published.length === 0 ? (
              <p class="notice look">{t('groups.rulesFirst')}</p>
            ) : (
              <GroupForm key={groups.length} {...{ office, groups, published, builtIn }} onSaved={saved} />
            )}
          </>
        )}
      </Loaded>
    </Panel>
  );
}

function Groups({ office, groups, onSaved }: GroupsStepProps & { groups: readonly RunGroupView[] }) {
  const [trouble, setTrouble] = useState<Trouble>();
  const remove = async ({ runGroupId, name }: RunGroupView): Promise<void> => {
    try {
      await call(deleteRunGroup, { params: { eventId: office.eventId, runGroupId } }, { token: office.token });
      setTrouble(undefined);
      say(t('groups.deleted', { name }));
      onSaved();
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  return (
    <>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <ul class="plain">
        {groups.map((group) => (
          <li key={group.runGroupId} class="row" data-group={group.name}>
            <span>
              <strong>{group.name}</strong>{' '}
              {t('groups.first', { at: dayAndTime(group.firstSessionAt, office.timeZone) })}
            </span>
            <Link to={{ section: 'rules', group: group.runGroupId }} class="button">
              {t('groups.rules', { name: group.name })}
            </Link>
            <button
              type="button"
              aria-label={t('groups.deleteNamed', { name: group.name })}
              onClick={() => void remove(group)}
            >
              {t('delete')}
            </button>
          </li>
        ))}
      </ul>
    </>
  );
}

type Published = { ruleSetId: string; name: string; latestVersion?: number | undefined };
type Profile = BuiltInRules['profiles'][number];

interface GroupFormProps extends GroupsStepProps {
  groups: readonly RunGroupView[];
  published: readonly Published[];
  builtIn: BuiltInRules;
}

const isProfile = (name: string): name is 'novice' | 'intermediate' | 'advanced' | 'competition' =>
  ['novice', 'intermediate', 'advanced', 'competition'].includes(name);

const profileName = (name: string): string => (isProfile(name) ? t(`profile.${name}`) : name);

const profileOptions = ({ profiles }: BuiltInRules): [string, string][] => [
  ...profiles.map(({ name }): [string, string] => [name, profileName(name)]),
  ['', t('profile.none')],
];

function GroupForm({ office, groups, published, builtIn, onSaved }: GroupFormProps) {
  const { event, timeZone } = office;
  const taken = groups.map(({ name }) => name);
  const plan = GROUP_PLAN.find(({ profile }) => !taken.includes(t(`profile.${profile}`)));
  const { values, set } = useValues({
    profile: plan?.profile ?? '',
    name: plan === undefined ? '' : t(`profile.${plan.profile}`),
    at: `${event.startsOn}T${plan?.time ?? '10:00'}`,
    ruleSetId: published.at(-1)?.ruleSetId ?? '',
  });
  const profile = builtIn.profiles.find(({ name }) => name === values.profile);
  const send = async (): Promise<void> => {
    const set = published.find(({ ruleSetId }) => ruleSetId === values.ruleSetId);
    const body = await groupBody(office, { set, profile, count: groups.length, values, zone: timeZone });
    await call(
      createRunGroup,
      { params: { eventId: office.eventId }, body },
      { token: office.token, timeoutMs: 60_000 },
    );
    say(t('groups.made', { name: values.name }));
    onSaved();
  };
  return (
    <Form label={t('groups.add')} submit={t('groups.make')} onSend={send}>
      <div class="fields">
        <Select
          label={t('groups.profile')}
          hint={t('groups.profileHint')}
          value={values.profile}
          onValue={(next) => {
            set('profile')(next);
            // A name that was typed stays; one that came with the profile goes with it.
            if (values.name === '' || values.name === profileName(values.profile)) set('name')(profileName(next));
          }}
          options={profileOptions(builtIn)}
        />
        <Input label={t('groups.name')} pointer="/name" value={values.name} onValue={set('name')} />
        <Input
          type="datetime-local"
          label={t('groups.session')}
          hint={t('zoneOf', { zone: timeZone })}
          pointer="/firstSessionAt"
          value={values.at}
          onValue={set('at')}
        />
        {published.length > 1 && (
          <Select
            label={t('step.rules')}
            pointer="/ruleSetId"
            value={values.ruleSetId}
            onValue={set('ruleSetId')}
            options={published.map(({ ruleSetId, name }) => [ruleSetId, name])}
          />
        )}
      </div>
      {profile !== undefined && <WhatDiffers profile={profile} />}
    </Form>
  );
}

/** The limits of the profile that the rule set knows: another set may have no such limit. */
async function groupBody(
  { token, event }: OfficeContext,
  wanted: {
    set: Published | undefined;
    profile: Profile | undefined;
    count: number;
    values: { name: string; at: string };
    zone: string;
  },
): Promise<RunGroupInput> {
  const { set, profile, count, values, zone } = wanted;
  const params = { ruleSetId: set?.ruleSetId ?? '', version: set?.latestVersion ?? 1 };
  const { body } = await call(getRuleSetVersion, { params }, { token });
  const known = body.document['parameters'] as Readonly<Record<string, unknown>> | undefined;
  const limits = (profile?.limits ?? []).filter(({ name }) => known?.[name] !== undefined);
  return {
    name: values.name,
    order: count + 1,
    firstSessionAt: fromWallClock(values.at || `${event.startsOn}T09:00`, zone),
    ruleSetId: params.ruleSetId,
    ruleSetVersion: params.version,
    parameters: Object.fromEntries(
      limits.map(({ name, value, unit }) => [name, unit === undefined ? { value } : { value, unit }]),
    ),
  };
}

function WhatDiffers({ profile }: { profile: Profile }) {
  const different = profile.limits.filter(({ value, builtIn }) => String(value) !== String(builtIn));
  const caption = t('differs.title', { profile: profileName(profile.name), count: different.length });
  return (
    <details>
      <summary>{caption}</summary>
      <Table caption={caption} head={[t('differs.what'), t('differs.here'), t('differs.builtIn')]}>
        {different.map(({ name, meaning, value, builtIn, unit }) => (
          <tr key={name}>
            <th scope="row">{meaning}</th>
            <td>{shown(value, unit)}</td>
            <td>{shown(builtIn, unit)}</td>
          </tr>
        ))}
      </Table>
    </details>
  );
}

function shown(value: number | string | boolean | readonly string[], unit: string | undefined): string {
  if (typeof value === 'boolean') return t(value ? 'yes' : 'no');
  const said = typeof value === 'object' ? value.join(', ') : String(value);
  return unit === undefined ? said : `${said} ${unit}`;
}

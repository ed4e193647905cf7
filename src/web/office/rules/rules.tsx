import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { createRuleSet, getRuleSet, listRuleSets, type RuleSetList as List } from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { go, Link, place } from '../parts/link.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { GroupList, GroupRules } from './group-rules.tsx';
import { RuleSetPage } from './rule-set-page.tsx';

const { t } = text;

/** Rule sets of the organizer, and the rules that judge each group of the event. */
export function Rules({ office }: { office: OfficeContext }) {
  const { ruleSet, group } = place.value;
  const organizer = office.session.role === 'organizer';
  if (group !== undefined) {
    return (
      <>
        <Back />
        <GroupRules key={group} runGroupId={group} office={office} />
      </>
    );
  }
  if (ruleSet !== undefined && organizer) {
    return (
      <>
        <Back />
        <RuleSetPage key={ruleSet} ruleSetId={ruleSet} office={office} />
      </>
    );
  }
  return (
    <>
      <GroupList office={office} />
      {organizer && <RuleSetList office={office} />}
    </>
  );
}

function Back() {
  return (
    <p>
      <Link to={{ section: 'rules' }} class="button">
        {t('rules.back')}
      </Link>
    </p>
  );
}

function RuleSetList({ office: { token } }: { office: OfficeContext }) {
  const load = useLoad<List['ruleSets']>('rule-sets', async (signal) => {
    return (await call(listRuleSets, {}, { token, signal })).body.ruleSets;
  });
  return (
    <Panel title={t('rules.sets')}>
      <Loaded of={load}>
        {(list) => (
          <>
            <ul class="plain">
              {list.map(({ ruleSetId, name, latestVersion }) => (
                <li key={ruleSetId}>
                  <Link to={{ section: 'rules', ruleSet: ruleSetId }} class="car">
                    <strong>{name}</strong>{' '}
                    {latestVersion === undefined
                      ? t('rules.unpublished')
                      : t('rules.version', { version: latestVersion })}
                  </Link>
                </li>
              ))}
            </ul>
            <NewRuleSet list={list} token={token} />
          </>
        )}
      </Loaded>
    </Panel>
  );
}

/** Empty, or a copy of one that is there. */
function NewRuleSet({ list, token }: { list: List['ruleSets']; token: string }) {
  const [name, setName] = useState('');
  const [from, setFrom] = useState('');
  const send = async (): Promise<void> => {
    const copied =
      from === '' ? undefined : (await call(getRuleSet, { params: { ruleSetId: from } }, { token })).body.document;
    const body = { name, ...(copied === undefined ? {} : { document: { ...copied, name } }) };
    const { body: made } = await call(createRuleSet, { body }, { token });
    go({ section: 'rules', ruleSet: made.ruleSetId });
  };
  return (
    <details>
      <summary>{t('rules.new')}</summary>
      <Form label={t('rules.new')} submit={t('rules.create')} onSend={send}>
        <Input label={t('rules.name')} pointer="/name" value={name} onValue={setName} />
        <Select
          label={t('rules.copyOf')}
          value={from}
          onValue={setFrom}
          options={[['', t('rules.empty')], ...list.map(({ ruleSetId, name: other }) => [ruleSetId, other] as const)]}
        />
      </Form>
    </details>
  );
}

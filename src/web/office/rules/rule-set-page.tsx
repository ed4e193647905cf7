import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  createRuleSet,
  getRuleSet,
  listRuleSets,
  listRuleSetVersions,
  retireRuleSetVersion,
  type RuleSetList as List,
  type RuleSetVersionList,
} from '../../api/operations.ts';
import { dayAndTime, type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';
import { go, Link, place } from '../parts/link.tsx';
import { DraftEditor } from './draft-editor.tsx';
import { type Format, readDraft, readUnsaved } from './read-draft.ts';
import { Trials } from './trials.tsx';
import { GroupList, GroupRules } from './group-rules.tsx';

const { t } = text;

/** One rule set: its draft, its trials, and what was published of it. */
export function RuleSetPage({ ruleSetId, office }: { ruleSetId: string; office: OfficeContext }) {
  const [format, setFormat] = useState<Format>(readUnsaved(ruleSetId)?.format ?? 'yaml');
  const [published, setPublished] = useState(0);
  const load = useLoad(`draft ${ruleSetId} ${format}`, () => readDraft(ruleSetId, format, office.token));
  return (
    <>
      <Loaded of={load}>
        {(draft) => (
          <>
            <h3>{draft.name}</h3>
            <DraftEditor
              key={draft.format}
              draft={draft}
              office={office}
              onFormat={setFormat}
              onPublished={() => {
                setPublished((count) => count + 1);
                load.reload();
              }}
            />
          </>
        )}
      </Loaded>
      <Trials ruleSetId={ruleSetId} office={office} round={published} />
      <Versions ruleSetId={ruleSetId} office={office} round={published} />
      <p>
        <a href="/docs/rule-sets">{t('rules.reference')}</a>
      </p>
    </>
  );
}

type Version = RuleSetVersionList['versions'][number];

/** What was published, newest first; a version can be retired, never changed. */
function Versions({ ruleSetId, office, round }: { ruleSetId: string; office: OfficeContext; round: number }) {
  const load = useLoad(`versions ${ruleSetId} ${round}`, async (signal) => {
    const { body } = await call(listRuleSetVersions, { params: { ruleSetId } }, { token: office.token, signal });
    return body.versions;
  });
  return (
    <Panel title={t('versions.title')}>
      <Loaded of={load}>
        {(versions) => (
          <ul class="plain">
            {versions.length === 0 && <li>{t('rules.unpublished')}</li>}
            {versions.map((one) => (
              <Item key={one.version} one={one} office={office} reload={load.reload} />
            ))}
          </ul>
        )}
      </Loaded>
    </Panel>
  );
}

function Item({ one, office, reload }: { one: Version; office: OfficeContext; reload(): void }) {
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState('');
  const { ruleSetId, version, publishedAt, publishedBy, changelog, retired } = one;
  const at = (instant: string): string => dayAndTime(instant, office.timeZone);
  return (
    <li class="stack" data-version={version}>
      <p>
        <strong>{t('rules.version', { version })}</strong>{' '}
        <span class="soft">{t('byAt', { who: publishedBy, time: at(publishedAt) })}</span>
      </p>
      <p>{changelog}</p>
      {retired !== undefined && (
        <p class="notice look">
          {t('versions.retired', { who: retired.by, time: at(retired.at), reason: retired.reason })}
        </p>
      )}
      {retired === undefined && !open && (
        <div class="row">
          <button type="button" onClick={() => setOpen(true)}>
            {t('versions.retire', { version })}
          </button>
        </div>
      )}
      {open && retired === undefined && (
        <Form
          label={t('versions.retire', { version })}
          submit={t('versions.retire', { version })}
          tone="bad"
          onCancel={() => setOpen(false)}
          onSend={async () => {
            const input = { params: { ruleSetId, version }, body: { reason } };
            await call(retireRuleSetVersion, input, { token: office.token });
            say(t('versions.done', { version }));
            reload();
          }}
        >
          <Input label={t('versions.reason')} pointer="/reason" value={reason} onValue={setReason} />
        </Form>
      )}
    </li>
  );
}

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

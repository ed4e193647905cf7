import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { listRuleSetVersions, retireRuleSetVersion, type RuleSetVersionList } from '../../api/operations.ts';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { Form, Input } from '../parts/form.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/time.ts';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { DraftEditor } from './draft-editor.tsx';
import { type Format, readDraft, readUnsaved } from './read-draft.ts';
import { Trials } from './trials.tsx';

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

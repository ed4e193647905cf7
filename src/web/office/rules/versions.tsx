import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { listRuleSetVersions, retireRuleSetVersion, type RuleSetVersionList } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Input } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { say } from '../parts/say.ts';
import { dayAndTime } from '../parts/time.ts';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';

const { t } = text;
type Version = RuleSetVersionList['versions'][number];

/** What was published, newest first; a version can be retired, never changed. */
export function Versions({ ruleSetId, desk, round }: { ruleSetId: string; desk: Desk; round: number }) {
  const load = useLoad(`versions ${ruleSetId} ${round}`, async (signal) => {
    const { body } = await call(listRuleSetVersions, { params: { ruleSetId } }, { token: desk.token, signal });
    return body.versions;
  });
  return (
    <Panel title={t('versions.title')}>
      <Loaded of={load}>
        {(versions) => (
          <ul class="plain">
            {versions.length === 0 && <li>{t('rules.unpublished')}</li>}
            {versions.map((one) => (
              <Item key={one.version} one={one} desk={desk} reload={load.reload} />
            ))}
          </ul>
        )}
      </Loaded>
    </Panel>
  );
}

function Item({ one, desk, reload }: { one: Version; desk: Desk; reload(): void }) {
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState('');
  const { ruleSetId, version, publishedAt, publishedBy, changelog, retired } = one;
  const at = (instant: string): string => dayAndTime(instant, desk.timeZone);
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
            await call(retireRuleSetVersion, input, { token: desk.token });
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

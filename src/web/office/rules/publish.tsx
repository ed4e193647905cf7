import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { publishRuleSet } from '../../api/operations.ts';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { Area, Form } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;

interface PublishProps {
  ruleSetId: string;
  office: OfficeContext;
  etag: string | undefined;
  /** there is something typed that is not saved */
  dirty: boolean;
  /** whether the check found no fault; undefined while it is at work */
  ok: boolean | undefined;
  onPublished(): void;
}

/** Makes a version of the draft, which never changes again. */
export function Publish({ ruleSetId, office, etag, dirty, ok, onPublished }: PublishProps) {
  const [changelog, setChangelog] = useState('');
  const hindrance = hindranceOf(dirty, ok);
  return (
    <Panel title={t('publish.title')}>
      <Form
        label={t('publish.title')}
        submit={t('publish.send')}
        disabled={hindrance !== undefined}
        onSend={async () => {
          const headers = etag === undefined ? {} : { 'if-match': etag };
          const input = { params: { ruleSetId }, headers, body: { changelog } };
          const { body } = await call(publishRuleSet, input, { token: office.token });
          say(t('publish.done', { version: body.version }));
          setChangelog('');
          onPublished();
        }}
      >
        <p>{hindrance ?? t('publish.how')}</p>
        <Area
          label={t('publish.changelog')}
          hint={t('publish.changelogHint')}
          pointer="/changelog"
          value={changelog}
          onValue={setChangelog}
        />
      </Form>
    </Panel>
  );
}

function hindranceOf(dirty: boolean, ok: boolean | undefined): string | undefined {
  if (dirty) return t('publish.saveFirst');
  if (ok === undefined) return t('check.pending');
  return ok ? undefined : t('publish.faults');
}

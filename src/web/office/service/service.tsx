import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type Audit, auditEvent } from '../../api/operations.ts';
import { Form } from '../parts/form.tsx';
import type { OfficeContext } from '../parts/office-context.ts';
import { Panel } from '../parts/panel.tsx';
import { Server } from './server.tsx';
import { serviceText } from './text.ts';
import { Webhooks } from './webhooks.tsx';

const { t } = serviceText;
export { serviceText as text };

/** What runs behind an event: the server, the history that can be checked, and who is told by webhooks. */
export function Service({ office }: { office: OfficeContext }) {
  return (
    <>
      <Server office={office} />
      <AuditCheck office={office} />
      <Webhooks office={office} />
    </>
  );
}

/** Reads the whole history of the event and holds it against its seal. */
function AuditCheck({ office }: { office: OfficeContext }) {
  const [found, setFound] = useState<Audit>();
  const send = async (): Promise<void> => {
    const input = { params: { eventId: office.eventId }, query: {} };
    setFound((await call(auditEvent, input, { token: office.token, timeoutMs: 120_000 })).body);
  };
  return (
    <Panel title={t('audit')}>
      <Form label={t('audit')} submit={t('audit.check')} onSend={send}>
        <p>{t('audit.why')}</p>
      </Form>
      {found !== undefined && (
        <div class={`notice stack ${found.intact ? 'good' : 'bad'}`} data-intact={found.intact} role="status">
          <p>{t(found.intact ? 'audit.intact' : 'audit.broken', { rows: found.rows, entries: found.entries })}</p>
          <p>
            {t('audit.head', { seq: found.head.seq })} <code class="key">{found.head.hash}</code>
          </p>
        </div>
      )}
    </Panel>
  );
}

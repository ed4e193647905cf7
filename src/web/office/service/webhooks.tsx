import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  createWebhook,
  deleteWebhook,
  listWebhookDeliveries,
  listWebhooks,
  replayWebhookDelivery,
  testWebhook,
  type WebhookView,
} from '../../api/operations.ts';
import {
  MESSAGE_FORMATS,
  MESSAGE_TYPES,
  type MessageFormat,
  type MessageType,
} from '../../../domain/history/webhook-messages.ts';
import { Check, Form, Input, Select } from '../parts/form.tsx';
import { dayAndTime, given, type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Loaded, Panel, Table, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { serviceText } from './text.ts';

const { t } = serviceText;

/** Who is told by a program of their own: where to, what came of it, and once more. */
export function Webhooks({ office }: { office: OfficeContext }) {
  const { token } = office;
  const load = useLoad('webhooks', async (signal) => {
    return (await call(listWebhooks, { query: { limit: 100 } }, { token, signal })).body.webhooks;
  });
  return (
    <Panel title={t('hooks')}>
      <p>{t('hooks.why')}</p>
      <Loaded of={load}>
        {(hooks) => (
          <ul class="plain">
            {hooks.map((hook) => (
              <li key={hook.webhookId}>
                <Hook {...{ hook, office }} onGone={load.reload} />
              </li>
            ))}
          </ul>
        )}
      </Loaded>
      <NewHook office={office} onMade={load.reload} />
    </Panel>
  );
}

function NewHook({ office, onMade }: { office: OfficeContext; onMade(): void }) {
  const { values, set, reset } = useValues({ url: '', description: '' });
  const [types, setTypes] = useState<readonly MessageType[]>(['clearance.changed']);
  const [format, setFormat] = useState<MessageFormat>('plain');
  const [secret, setSecret] = useState<string>();
  const send = async (): Promise<void> => {
    const description = given(values.description);
    const body = {
      url: values.url.trim(),
      types,
      format,
      eventId: office.eventId,
      ...(description === undefined ? {} : { description }),
    };
    const headers = { 'idempotency-key': crypto.randomUUID() };
    setSecret((await call(createWebhook, { headers, body }, { token: office.token })).body.secret);
    reset();
    onMade();
  };
  return (
    <>
      <Form label={t('hooks.new')} submit={t('hooks.make')} onSend={send}>
        <div class="fields">
          <Input
            label={t('hooks.url')}
            hint={t('hooks.urlHint')}
            pointer="/url"
            value={values.url}
            onValue={set('url')}
          />
          <Input
            label={t('hooks.what')}
            pointer="/description"
            value={values.description}
            onValue={set('description')}
          />
          <Select
            label={t('hooks.format')}
            pointer="/format"
            value={format}
            onValue={(value) => setFormat(MESSAGE_FORMATS.find((one) => one === value) ?? 'plain')}
            options={MESSAGE_FORMATS.map((one) => [one, t(`hooks.format.${one}`)])}
          />
        </div>
        <Types types={types} onTypes={setTypes} />
      </Form>
      {secret !== undefined && (
        <p class="notice look">
          {t('hooks.secret')} <code class="key">{secret}</code>
        </p>
      )}
    </>
  );
}

interface TypesProps {
  types: readonly MessageType[];
  onTypes(types: readonly MessageType[]): void;
}

function Types({ types, onTypes }: TypesProps) {
  return (
    <fieldset>
      <legend>{t('hooks.types')}</legend>
      {MESSAGE_TYPES.map((type) => (
        <Check
          key={type}
          label={t(`type.${type}`)}
          checked={types.includes(type)}
          onChecked={(on) => onTypes(MESSAGE_TYPES.filter((one) => (one === type ? on : types.includes(one))))}
        />
      ))}
    </fieldset>
  );
}

function Hook({ hook, office, onGone }: { hook: WebhookView; office: OfficeContext; onGone(): void }) {
  const { webhookId, url, enabled, disabledReason, failures, description } = hook;
  const { token } = office;
  const [trouble, setTrouble] = useState<Trouble>();
  const [round, setRound] = useState(0);
  const act = async (send: () => Promise<unknown>, done: string): Promise<void> => {
    try {
      await send();
      setTrouble(undefined);
      say(done);
      setRound((count) => count + 1);
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  const params = { webhookId };
  const once = () => ({ 'idempotency-key': crypto.randomUUID() });
  const remove = async (): Promise<void> => {
    await act(() => call(deleteWebhook, { params }, { token }), t('hooks.gone', { url }));
    onGone();
  };
  return (
    <details>
      <summary>
        {url} <span class="soft">{description}</span>{' '}
        {enabled ? t('hooks.on', { failures }) : t('hooks.off', { reason: disabledReason ?? '' })}
      </summary>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <div class="row">
        <button
          type="button"
          onClick={() => void act(() => call(testWebhook, { params, headers: once() }, { token }), t('hooks.tested'))}
        >
          {t('hooks.test')}
        </button>
        <button type="button" class="bad" onClick={() => void remove()}>
          {t('hooks.delete')}
        </button>
      </div>
      <Deliveries
        {...{ webhookId, office, round }}
        onReplay={(deliveryId) =>
          act(
            () => call(replayWebhookDelivery, { params: { webhookId, deliveryId }, headers: once() }, { token }),
            t('hooks.again'),
          )
        }
      />
    </details>
  );
}

interface DeliveriesProps {
  webhookId: string;
  office: OfficeContext;
  /** changes when something was sent */
  round: number;
  onReplay(deliveryId: string): Promise<void>;
}

function Deliveries({ webhookId, office, round, onReplay }: DeliveriesProps) {
  const load = useLoad(`deliveries ${webhookId} ${round}`, async (signal) => {
    const input = { params: { webhookId }, query: { limit: 50 } };
    return (await call(listWebhookDeliveries, input, { token: office.token, signal })).body.deliveries;
  });
  return (
    <Loaded of={load}>
      {(list) => (
        <Table caption={t('deliveries')} head={[t('when'), t('what'), t('state'), t('answer'), t('act')]}>
          {list.map(({ deliveryId, createdAt, type, state, attempts }) => {
            const last = attempts.at(-1);
            return (
              <tr key={deliveryId} data-state={state}>
                <th scope="row">{dayAndTime(createdAt, office.timeZone)}</th>
                <td>{type}</td>
                <td>{t(`state.${state}`)}</td>
                <td>{last === undefined ? '' : (last.status ?? last.error)}</td>
                <td>
                  {state === 'failed' && (
                    <button type="button" onClick={() => void onReplay(deliveryId)}>
                      {t('tryAgain')}
                    </button>
                  )}
                </td>
              </tr>
            );
          })}
        </Table>
      )}
    </Loaded>
  );
}

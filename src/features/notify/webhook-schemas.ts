import { z } from 'zod';
import { MESSAGE_FORMATS, MESSAGE_TYPES } from '../../domain/history/webhook-messages.ts';
import { Id, InstantOut, line, Page } from '../../http/frame/common-schemas.ts';

const DELIVERY_STATES = ['pending', 'delivered', 'failed', 'cancelled'] as const;
export type DeliveryState = (typeof DELIVERY_STATES)[number];

const Url = z
  .string()
  .min(1)
  .max(2000)
  // Read as an address would be, so that what is shown is what is asked.
  .regex(/^[\x21-\x7e]+$/, 'must be printable ASCII without spaces')
  .describe('Where messages are posted: https, and no address of a private network unless the server allows it');
const Types = z
  .array(z.enum(MESSAGE_TYPES))
  .min(1)
  .max(MESSAGE_TYPES.length)
  .refine((types) => new Set(types).size === types.length, 'must not name a type twice')
  .describe('What is told');
const Description = line(200).describe('What it is for');
const Format = z
  .enum(MESSAGE_FORMATS)
  .describe(
    'How messages are written: `plain` (`type`, `timestamp`, `data`), or as CloudEvents 1.0 in the structured mode',
  );
const EventId = Id.optional().describe('Only messages of this event; absent: of all events');

export const NewWebhook = z
  .strictObject({
    url: Url,
    types: Types,
    eventId: EventId,
    description: Description.optional(),
    format: Format.default('plain'),
  })
  .meta({ id: 'NewWebhook' });
export type NewWebhook = z.infer<typeof NewWebhook>;

export const WebhookChanges = z
  .strictObject({
    url: Url.optional(),
    types: Types.optional(),
    description: Description.nullable().optional().describe('What it is for; null: nothing is said'),
    enabled: z.boolean().optional().describe('Whether messages are sent. Turned off, what waits is cancelled'),
  })
  .meta({ id: 'WebhookChanges' });
export type WebhookChanges = z.infer<typeof WebhookChanges>;

const shown = {
  webhookId: Id,
  url: z.string().describe('Where messages are posted'),
  types: z.array(z.string()).describe('What is told'),
  eventId: EventId,
  format: Format,
  description: z.string().optional().describe('What it is for'),
  enabled: z.boolean().describe('Whether messages are sent'),
  disabledReason: z.string().optional().describe('Why it sends nothing; absent while it is enabled'),
  disabledAt: InstantOut.optional(),
  failures: z.int().describe('Attempts that failed in a row'),
  lastSuccessAt: InstantOut.optional().describe('When the receiver last took a message'),
  pausedUntil: InstantOut.optional().describe('Nothing is sent before: the receiver is slow, or asked to wait'),
  createdAt: InstantOut,
};
const Secret = z
  .string()
  .describe('Checks signatures (Standard Webhooks 1.0). It is shown this once and cannot be read again');

export const WebhookView = z.object(shown).meta({ id: 'WebhookView' });
export type WebhookView = z.infer<typeof WebhookView>;

export const CreatedWebhook = z.object({ ...shown, secret: Secret }).meta({ id: 'CreatedWebhook' });

export const RotatedSecret = z
  .object({
    webhookId: Id,
    secret: Secret,
    previousEndsAt: InstantOut.describe('Until then messages are signed with the secret before as well'),
  })
  .meta({ id: 'RotatedSecret' });
export type RotatedSecret = z.infer<typeof RotatedSecret>;

const next = z.string().optional().describe('`cursor` of the next page; absent on the last one');

export const WebhookList = z
  .object({ webhooks: z.array(WebhookView).describe('Oldest first'), next })
  .meta({ id: 'WebhookList' });

const AttemptView = z
  .object({
    number: z.int().describe('1 on the first attempt'),
    startedAt: InstantOut,
    durationMs: z.int().describe('Milliseconds until the answer, or until it was given up'),
    status: z.int().optional().describe('HTTP status of the answer; absent when there was none'),
    answer: z.string().optional().describe('The first kilobyte of the answer'),
    error: z.string().optional().describe('Why there was no answer'),
  })
  .meta({ id: 'WebhookAttemptView' });

export const DeliveryView = z
  .object({
    deliveryId: Id,
    messageId: z.string().describe('`webhook-id` of every attempt; whoever has seen it has seen the message'),
    type: z.string().describe('Type of the message'),
    state: z.enum(DELIVERY_STATES).describe('How it stands'),
    createdAt: InstantOut,
    dueAt: InstantOut.optional().describe('When it is tried next; only while it is pending'),
    finishedAt: InstantOut.optional(),
    body: z.string().describe('What is sent, exactly'),
    attempts: z.array(AttemptView).describe('Oldest first'),
  })
  .meta({ id: 'WebhookDeliveryView' });
export type DeliveryView = z.infer<typeof DeliveryView>;

export const DeliveryList = z
  .object({ deliveries: z.array(DeliveryView).describe('Newest first; finished ones are kept for 30 days'), next })
  .meta({ id: 'WebhookDeliveryList' });

export const webhookParams = z.strictObject({ webhookId: Id });
export const deliveryParams = z.strictObject({ webhookId: Id, deliveryId: Id });
export const webhookQuery = z.strictObject({ ...Page });
export const deliveryQuery = z.strictObject({
  state: z.enum(DELIVERY_STATES).optional().describe('Only deliveries that stand so'),
  ...Page,
});

/** Examples of the document. */
export const NEW_WEBHOOK = {
  url: 'https://timing.example.org/hooks/gridworthy',
  types: ['hold.placed', 'clearance.changed'] as ('hold.placed' | 'clearance.changed')[],
  description: 'Timing shows who may go out',
};

export const WEBHOOK = {
  webhookId: '019ab8f0-0000-7000-8000-0000000000e1',
  ...NEW_WEBHOOK,
  format: 'plain' as const,
  enabled: true,
  failures: 0,
  lastSuccessAt: '2026-06-13T06:40:00.000Z',
  createdAt: '2026-06-01T08:00:00.000Z',
};

/** The secret of no webhook: base64 of a sentence that says so. */
export const EXAMPLE_SECRET = `whsec_${Buffer.from('an example, and no secret of any webhook').toString('base64')}`;

export const DELIVERY = {
  deliveryId: '019ab8f0-0000-7000-8000-0000000000e2',
  messageId: 'msg_019ab8f0000070008000000000000123',
  type: 'hold.placed',
  state: 'delivered' as const,
  createdAt: '2026-06-13T06:40:00.000Z',
  finishedAt: '2026-06-13T06:40:01.000Z',
  body: JSON.stringify({
    type: 'hold.placed',
    timestamp: '2026-06-13T06:40:00.000Z',
    data: {
      eventId: '019ab8f0-0000-7000-8000-000000000002',
      entryId: '019ab8f0-0000-7000-8000-000000000003',
      carNumber: '07',
      status: 'held',
      admit: false,
      validUntil: null,
      holdId: '019ab8f0-0000-7000-8000-000000000004',
      history: { seq: 42, hash: '9b1c…' },
    },
  }),
  attempts: [{ number: 1, startedAt: '2026-06-13T06:40:00.000Z', durationMs: 84, status: 204, answer: '' }],
};

export const PENDING_DELIVERY = {
  deliveryId: DELIVERY.deliveryId,
  messageId: DELIVERY.messageId,
  type: DELIVERY.type,
  state: 'pending' as const,
  createdAt: DELIVERY.createdAt,
  dueAt: '2026-06-13T07:00:00.000Z',
  body: DELIVERY.body,
  attempts: DELIVERY.attempts,
};

export const PING_DELIVERY = {
  ...PENDING_DELIVERY,
  type: 'webhook.test',
  body: JSON.stringify({
    type: 'webhook.test',
    timestamp: '2026-06-13T06:40:00.000Z',
    data: { webhookId: WEBHOOK.webhookId },
  }),
  attempts: [],
};

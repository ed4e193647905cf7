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

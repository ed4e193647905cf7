/** How messages to a webhook are written: as they are, or as events of CloudEvents 1.0 in the structured mode. */
export const MESSAGE_FORMATS = ['plain', 'cloudevents'] as const;
export type MessageFormat = (typeof MESSAGE_FORMATS)[number];

/** Media types of the formats; of the second as the HTTP binding of CloudEvents 1.0.2 (3.2.1) has it. */
export const FORMAT_TYPES: Readonly<Record<MessageFormat, string>> = {
  plain: 'application/json',
  cloudevents: 'application/cloudevents+json; charset=utf-8',
};

interface Plain {
  type: string;
  timestamp: string;
  data: { eventId?: string; entryId?: string; webhookId?: string };
}

/**
 * The text of a message in a format: the same message, the same text, byte for byte.
 *
 * `id` and `source` together are unique over all attempts and replays, as CloudEvents 1.0.2 (3.1.1) asks: the source is the
 * race event that it is about. `subject` is the entry.
 *
 * @param message `body` as JSON text of `{ type, timestamp, data }`
 * @param base the server's public address; empty: the source is a reference without one, which the standard allows
 */
export function inFormat(
  format: MessageFormat,
  { messageId, body }: { messageId: string; body: string },
  base: string,
): string {
  if (format === 'plain') return body;
  // As we wrote it.
  const { type, timestamp, data } = JSON.parse(body) as Plain;
  const { eventId, entryId, webhookId } = data;
  return JSON.stringify({
    specversion: '1.0',
    id: messageId,
    source: `${base}/v1/${eventId === undefined ? `webhooks/${webhookId ?? ''}` : `events/${eventId}`}`,
    type,
    ...(entryId !== undefined && { subject: `entries/${entryId}` }),
    time: timestamp,
    datacontenttype: 'application/json',
    data,
  });
}

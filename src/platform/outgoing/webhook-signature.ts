import { createHmac, randomBytes } from 'node:crypto';

const PREFIX = 'whsec_';
const SECRET_BYTES = 32;

/** A new secret, as Standard Webhooks 1.0 writes it: `whsec_` and base64 of 24 to 64 random bytes, here 32. */
export function newWebhookSecret(): string {
  return PREFIX + randomBytes(SECRET_BYTES).toString('base64');
}

/**
 * The headers that prove who sent a message and when (Standard Webhooks 1.0, scheme v1: HMAC-SHA256 over
 * `id.timestamp.body`). Each secret gives one signature, so a receiver that knows any of them can check it.
 *
 * @param message `id` holds no dot; `at` is the instant of this attempt; `body` exactly what is sent
 */
export function signWebhook(
  message: { id: string; at: Date; body: string },
  secrets: readonly string[],
): Record<'webhook-id' | 'webhook-timestamp' | 'webhook-signature', string> {
  if (message.id.includes('.')) throw new Error('a dot in the id would let two messages have one signature');
  const timestamp = String(Math.floor(message.at.getTime() / 1000));
  const signed = `${message.id}.${timestamp}.${message.body}`;
  const signatures = secrets.map((secret) => {
    const key = Buffer.from(secret.slice(PREFIX.length), 'base64');
    return `v1,${createHmac('sha256', key).update(signed).digest('base64')}`;
  });
  return { 'webhook-id': message.id, 'webhook-timestamp': timestamp, 'webhook-signature': signatures.join(' ') };
}

import { Webhook } from 'standardwebhooks';
import { describe, expect, test } from 'vitest';
import { newWebhookSecret, signWebhook } from '../../../../src/features/notify/webhook-sending.ts';

// Source of the rules: Standard Webhooks 1.0, checked by its own reference library (`standardwebhooks`), which shares
// no code with ours.

const now = () => new Date(Math.floor(Date.now() / 1000) * 1000);
const BODY = '{"type":"hold.placed","data":{"carNumber":"07","reason":"öl – 漏"}}';

describe('a signature', () => {
  test('is accepted by the reference library, and only for exactly these bytes, this id and this time', () => {
    const secret = newWebhookSecret();
    const headers = signWebhook({ id: 'msg_1', at: now(), body: BODY }, [secret]);
    const reference = new Webhook(secret);
    expect(reference.verify(BODY, headers)).toEqual(JSON.parse(BODY));
    expect(() => reference.verify(BODY.replace('07', '7'), headers)).toThrow();
    expect(() => reference.verify(`${BODY} `, headers)).toThrow();
    expect(() => reference.verify(BODY, { ...headers, 'webhook-id': 'msg_2' })).toThrow();
    const later = String(Number(headers['webhook-timestamp']) + 1);
    expect(() => reference.verify(BODY, { ...headers, 'webhook-timestamp': later })).toThrow();
  });

  test('is the one that the reference library makes', () => {
    for (let i = 0; i < 50; i += 1) {
      const secret = newWebhookSecret();
      const at = now();
      const message = { id: `msg_${i}`, at, body: JSON.stringify({ i, text: 'x'.repeat(i * 97) }) };
      const ours = signWebhook(message, [secret])['webhook-signature'];
      expect(ours).toBe(new Webhook(secret).sign(message.id, at, message.body));
    }
  });

  test('of several secrets is accepted by who knows any of them, and by nobody else', () => {
    const [first, second, third] = [newWebhookSecret(), newWebhookSecret(), newWebhookSecret()];
    const headers = signWebhook({ id: 'msg_1', at: now(), body: BODY }, [first, second]);
    expect(headers['webhook-signature'].split(' ')).toHaveLength(2);
    for (const secret of [first, second]) expect(new Webhook(secret).verify(BODY, headers)).toBeTruthy();
    expect(() => new Webhook(third).verify(BODY, headers)).toThrow();
  });

  test('ten minutes old is refused by the reference library', () => {
    const secret = newWebhookSecret();
    const headers = signWebhook({ id: 'msg_1', at: new Date(Date.now() - 600_000), body: BODY }, [secret]);
    expect(() => new Webhook(secret).verify(BODY, headers)).toThrow(/too old/i);
  });

  test('of an id with a dot is not made: two messages could share it', () => {
    expect(() => signWebhook({ id: 'msg.1', at: now(), body: BODY }, [newWebhookSecret()])).toThrow(/dot/);
  });
});

test('secrets are whsec_ with 24 to 64 random bytes in base64 (Standard Webhooks 1.0), each another', () => {
  const secrets = Array.from({ length: 100 }, newWebhookSecret);
  expect(new Set(secrets).size).toBe(100);
  for (const secret of secrets) {
    expect(secret).toMatch(/^whsec_[A-Za-z0-9+/]+=*$/);
    const bytes = Buffer.from(secret.slice(6), 'base64').length;
    expect(bytes).toBeGreaterThanOrEqual(24);
    expect(bytes).toBeLessThanOrEqual(64);
  }
});

import { CloudEvent, HTTP } from 'cloudevents';
import { describe, expect, it } from 'vitest';
import { FORMAT_TYPES, inFormat } from '../../../../src/domain/history/message-formats.ts';

const MESSAGE = {
  messageId: 'msg_019ab8f0000070008000000000000123',
  body: JSON.stringify({
    type: 'hold.placed',
    timestamp: '2026-06-13T06:40:00.000Z',
    data: { eventId: 'e-1', entryId: 'n-1', carNumber: '07', status: 'held', admit: false },
  }),
};

/** Read by the reference library of CloudEvents 1.0, which also validates: `cloudevents`. */
const read = (body: string): CloudEvent<unknown> => {
  const event = HTTP.toEvent({ headers: { 'content-type': FORMAT_TYPES.cloudevents }, body });
  if (!(event instanceof CloudEvent)) throw new Error('not one event');
  event.validate();
  return event;
};

describe('inFormat', () => {
  it('leaves a plain message as it is', () => {
    expect(inFormat('plain', MESSAGE, 'https://club.example')).toBe(MESSAGE.body);
  });

  it.each(['https://club.example', ''])('writes what the reference library reads and finds valid, at %j', (base) => {
    const event = read(inFormat('cloudevents', MESSAGE, base));
    expect(event).toMatchObject({
      specversion: '1.0',
      id: MESSAGE.messageId,
      source: `${base}/v1/events/e-1`,
      type: 'hold.placed',
      subject: 'entries/n-1',
      time: '2026-06-13T06:40:00.000Z',
      datacontenttype: 'application/json',
      data: { entryId: 'n-1', carNumber: '07', status: 'held', admit: false },
    });
  });

  it('has no subject where a message is about no entry, and a source all the same', () => {
    const body = JSON.stringify({
      type: 'webhook.test',
      timestamp: '2026-06-13T06:40:00.000Z',
      data: { webhookId: 'w' },
    });
    const event = read(inFormat('cloudevents', { messageId: 'm', body }, ''));
    expect(event.subject).toBeUndefined();
    expect(event.source).toBe('/v1/webhooks/w');
  });
});

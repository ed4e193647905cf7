import sharp from 'sharp';
import type { TestApp } from '../support/app.ts';
import { openTestShop } from '../support/shop.ts';
import { claim, signOff, submit, type TestEntry, type TestEvent } from '../support/event.ts';

/** A value for each `{name}` of a path. */
export type Ids = Record<string, string>;

/** Things of every kind that belong to one entry, made through the API. */
export async function idsOfEntry(t: TestApp, event: TestEvent, entry: TestEntry): Promise<Ids> {
  await submit(t, entry);
  const claimed = await claim(t, event, entry.carNumber);
  const decided = await signOff(t, claimed.body.claimId, {
    decision: 'accept-with-conditions',
    stickerNumber: `S${entry.carNumber}`,
    conditions: [{ text: 'torque' }],
  });
  const { body: view } = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
  const hold = await t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' });
  const concession = await t
    .api('chief')
    .post(`/v1/entries/${entry.entryId}/concessions`)
    .send({ ruleId: 'pedal-firm', reason: 'known', expiresAt: '2026-06-13T12:00:00Z' });
  const bytes = await sharp({ create: { width: 8, height: 6, channels: 3, background: 'red' } })
    .png()
    .toBuffer();
  const photo = await t
    .api(entry.entrant)
    .post(`/v1/entries/${entry.entryId}/photos?item=pad.thickness&position=FL.in`)
    .set('content-type', 'image/png')
    .send(bytes);
  const organizer = t.api('organizer');
  const kept = await organizer
    .post(`/v1/vehicles/${view.vehicleId}/calculations`)
    .send({ name: 'tyre-age', body: { code: '2324', onDay: '2026-06-13' } });
  const webhook = await organizer
    .post('/v1/webhooks')
    .send({ url: 'https://hooks.example.org/gridworthy', types: ['hold.placed'] });
  const ping = await organizer.post(`/v1/webhooks/${webhook.body.webhookId}/test`);
  const { shopId, shopLinkId } = await openTestShop(t, entry);
  return {
    shopId,
    shopLinkId,
    eventId: event.eventId,
    runGroupId: event.novice,
    ruleSetId: event.ruleSetId,
    venueId: event.venueId,
    version: '1',
    step: 'venue',
    table: 'findings',
    sheet: 'rescue',
    kind: 'link',
    language: 'en',
    ruleId: 'pad-thickness',
    entryId: entry.entryId,
    carNumber: entry.carNumber,
    vehicleId: view.vehicleId,
    keptId: kept.body.keptId,
    inspectionId: decided.body.inspectionId,
    conditionId: decided.body.conditions?.[0]?.id,
    claimId: claimed.body.claimId,
    holdId: hold.body.holdId,
    concessionId: concession.body.concessionId,
    photoId: photo.body.photoId,
    tokenId: entry.entrant.tokenId,
    webhookId: webhook.body.webhookId,
    deliveryId: ping.body.deliveryId,
    trialId: '019ab8f0-0000-7000-8000-0000000000aa',
    rejudgementId: '019ab8f0-0000-7000-8000-0000000000ab',
  };
}

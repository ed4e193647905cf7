import { afterAll, beforeAll, beforeEach, describe, expect, onTestFinished, test } from 'vitest';
import { loadConfig } from '../../src/config.ts';
import { mailByTheClock } from '../../src/features/notify/mail/order.ts';
import { mailSendJob, mailWriteJob } from '../../src/features/notify/mail/send.job.ts';
import { listWorn } from '../../src/features/notify/mail/facts-store.ts';
import { inspectionNotifyJob } from '../../src/features/declare/submit.ts';
import { notifyEntrantJob } from '../../src/records/notify-entrant.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  SMALL_RULE_SET,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { JOB_CONTEXT, runOrdered } from '../support/jobs.ts';
import { logLines } from '../support/log.ts';
import { readable, startSmtp, type TestSmtp } from '../support/smtp.ts';

let t: TestApp;
let smtp: TestSmtp;
let event: TestEvent;
let entry: TestEntry;
const log = logLines();

beforeAll(async () => {
  smtp = await startSmtp();
  const { mail } = loadConfig({
    SMTP_URL: `smtp://127.0.0.1:${smtp.port}`,
    SMTP_PLAIN: 'allow',
    MAIL_FROM: 'Tech office <tech@club.example.org>',
    MAIL_REPLY_TO: 'office@club.example.org',
    MAIL_PER_MINUTE: '1000',
  });
  t = await startTestApp({ own: true, config: { mail, publicUrl: 'https://tech.example.org' } });
});
afterAll(async () => {
  await t.close();
  await smtp.close();
});

const who = { name: 'Jürgen Großkopf', email: 'juergen@example.org' };
beforeEach(async () => {
  smtp.received.length = 0;
  smtp.manners = {};
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event, { entrant: who });
});

interface Listed {
  mailId: string;
  kind: string;
  state: string;
  reply: string;
  attempts: number;
}
const mails = async (query = '') => {
  const answer = await t.api('organizer').get(`/v1/events/${event.eventId}/mails${query}`);
  return answer.body.mails as Listed[];
};
const context = { ...JOB_CONTEXT, log: log.log };
const send = (mailId: string, attempt = 1) =>
  mailSendJob.handle({ ...t.deps, log: log.log }, { mailId }, { ...context, attempt });
/** Runs what the worker would run after an order, up to the mail server. */
const writeAll = async () => {
  const rows = await t.deps.db.prisma.outbox.findMany({ where: { name: mailWriteJob.name, doneAt: null } });
  for (const { id, payload } of rows) {
    await mailWriteJob.handle(t.deps, mailWriteJob.payload.parse(payload), context);
    await t.deps.db.prisma.outbox.update({ where: { id }, data: { doneAt: new Date() } });
  }
};
const order = (body: object) => t.api('organizer').post(`/v1/events/${event.eventId}/mails`).send(body);
const remind = async () => {
  expect((await order({ kind: 'reminder' })).body).toMatchObject({ written: 1 });
  const [mail] = await mails();
  return mail as Listed;
};

describe('a real conversation', () => {
  test('the receipt has the verdict and what to fix, in plain text and HTML', async () => {
    const answer = await submit(t, entry, { ...GOOD_ANSWERS, 'brake.pedal': 'long' });
    await runOrdered(t, answer, inspectionNotifyJob);
    await runOrdered(t, answer, inspectionNotifyJob);
    await writeAll();
    const [mail, ...others] = await mails();
    expect(others).toEqual([]);
    await send(mail?.mailId ?? '');
    expect(await mails()).toMatchObject([
      { kind: 'receipt', state: 'sent', attempts: 1, reply: expect.stringMatching(/^250/) },
    ]);
    const [raw = ''] = smtp.received;
    const text = readable(raw);
    expect(text).toContain('Hello Jürgen Großkopf');
    expect(text).toContain('To be fixed before the car goes out:');
    expect(text).toContain('A passed inspection never guarantees a safe car.');
    expect(text).toMatch(/Content-Type: multipart\/alternative/);
    expect(text).toMatch(/<p>Hello Jürgen/);
    expect(raw).toContain(`Message-ID: <${mail?.mailId}@club.example.org>`);
    expect(raw).toContain('Reply-To: office@club.example.org');
    // RFC 3834, section 5; RFC 8058, section 3.1
    expect(raw).toContain('Auto-Submitted: auto-generated');
    expect(text).toMatch(/List-Unsubscribe: <https:\/\/tech\.example\.org\/mail\/stop\/[\w-]+>/);
    expect(raw).toContain('List-Unsubscribe-Post: List-Unsubscribe=One-Click');
    // sent once, however often the job runs
    await send(mail?.mailId ?? '');
    expect(smtp.received).toHaveLength(1);
  });

  test('an address that the server refuses is shown with its words, and not tried again', async () => {
    smtp.manners = { recipient: { code: 550, text: 'no such mailbox here' } };
    const { mailId } = await remind();
    await send(mailId);
    expect(await mails()).toMatchObject([
      { state: 'refused', reply: expect.stringContaining('550 no such mailbox here') },
    ]);
    await send(mailId);
    expect(await mails()).toMatchObject([{ attempts: 1 }]);
  });

  test('not now is tried again under the same id; after the last try it failed', async () => {
    smtp.manners = { data: { code: 451, text: 'greylisted' } };
    const { mailId } = await remind();
    await expect(send(mailId)).rejects.toThrow('did not take');
    expect(await mails()).toMatchObject([{ state: 'waiting', reply: expect.stringContaining('451 greylisted') }]);
    smtp.manners = {};
    await send(mailId, 2);
    const ids = smtp.received.map((raw) => /^Message-ID: (.*)$/im.exec(raw)?.[1]?.trim());
    expect(ids).toEqual([`<${mailId}@club.example.org>`, `<${mailId}@club.example.org>`]);
    expect(await mails()).toMatchObject([{ state: 'sent', attempts: 2 }]);
    const other = await createTestEntry(t, event, { entrant: who });
    smtp.manners = { data: { code: 451, text: 'greylisted' } };
    await order({ kind: 'reminder', entryIds: [other.entryId] });
    const [last] = await mails();
    await send(last?.mailId ?? '', mailSendJob.attempts);
    expect((await mails())[0]).toMatchObject({ state: 'failed' });
  });

  test('no answer after the whole message is doubt: nothing is sent again by itself', async () => {
    smtp.manners = { data: 'hang-up' };
    const { mailId } = await remind();
    await send(mailId);
    expect(await mails()).toMatchObject([{ state: 'doubt' }]);
    await send(mailId, 2);
    expect(smtp.received).toHaveLength(1);
    smtp.manners = {};
    expect((await t.api('organizer').post(`/v1/mails/${mailId}/again`)).status).toBe(202);
    await send(mailId);
    expect(await mails()).toMatchObject([{ state: 'sent' }]);
    expect((await t.api('organizer').post(`/v1/mails/${mailId}/again`)).body.code).toBe('state-moved-on');
  });

  test('the log has neither address nor name nor text', () => {
    const said = JSON.stringify(log.lines);
    expect(log.lines.length).toBeGreaterThan(3);
    for (const personal of ['juergen', 'Großkopf', 'Hello', '@example.org']) expect(said).not.toContain(personal);
  });
});

describe('what is written', () => {
  test('whoever stops messages gets no reminder, and is still told of a stop of the car', async () => {
    const { mailId } = await remind();
    const { stopKey } = await t.deps.db.prisma.mail.findUniqueOrThrow({ where: { id: mailId } });
    const page = await t.api(undefined).get(`/mail/stop/${stopKey}`);
    expect([page.status, page.text]).toEqual([200, expect.stringContaining('Abbestellen')]);
    expect((await order({ kind: 'note', subject: 'Rain', text: 'Bring tyres.' })).body.written).toBe(1);
    const stop = t.api(undefined).post(`/mail/stop/${stopKey}`).type('form').send('List-Unsubscribe=One-Click');
    const stopped = await stop;
    expect(stopped.status, stopped.text).toBe(200);
    expect((await order({ kind: 'note', subject: 'Rain', text: 'Bring tyres.' })).body).toMatchObject({
      written: 0,
      stopped: 1,
    });
    const hold = await t
      .api('inspector')
      .post(`/v1/entries/${entry.entryId}/holds`)
      .send({ reason: 'oil on the sill' });
    await runOrdered(t, hold, notifyEntrantJob);
    await writeAll();
    const [newest] = await mails();
    const { body } = await t.api('organizer').get(`/v1/mails/${newest?.mailId}`);
    expect(body).toMatchObject({ kind: 'hold', text: expect.stringContaining('oil on the sill') });
  });

  test('in the language of the entrant, by the text of the event', async () => {
    const german = await createTestEntry(t, event, { entrant: { ...who, language: 'de' } });
    const path = `/v1/events/${event.eventId}/mail-templates/reminder/de`;
    const wrong = await t.api('organizer').put(path).send({ subject: 'Bitte', text: 'Hallo {vorname}' });
    expect([wrong.status, wrong.body.errors[0].code]).toEqual([400, 'unknown-word']);
    const own = { subject: 'Auto {number}: bitte erklären', text: 'Servus {name}!\n\n<b>{closes}</b>' };
    expect((await t.api('organizer').post(`${path}/preview`).send(own)).body).toMatchObject({ unknown: [] });
    expect((await t.api('organizer').put(path).send(own)).status).toBe(204);
    await order({ kind: 'reminder', entryIds: [german.entryId] });
    const [mail] = await mails();
    const { body } = await t.api('organizer').get(`/v1/mails/${mail?.mailId}`);
    expect(body.subject).toBe(`Auto ${german.carNumber}: bitte erklären`);
    expect(body.text).toContain('Servus Jürgen Großkopf!');
    expect(body.html).toContain('&lt;b&gt;');
    expect(body.text).toContain('Eine bestandene Abnahme ist keine Garantie');
  });

  test('the clock reminds whoever has not declared, once, and nobody else', async () => {
    const declared = await createTestEntry(t, event, { entrant: who });
    await submit(t, declared);
    await createTestEntry(t, event);
    const { declarationsCloseAt } = await t.deps.db.prisma.event.findUniqueOrThrow({ where: { id: event.eventId } });
    t.clock.set(new Date(declarationsCloseAt.getTime() - 20 * 3_600_000).toISOString());
    await mailByTheClock(t.deps);
    await mailByTheClock(t.deps);
    expect((await mails()).map(({ kind }) => kind)).toEqual(['reminder']);
    expect((await mails(`?entryId=${entry.entryId}`)).length).toBe(1);
    t.clock.set(TEST_NOW);
  });

  test('after the event what wore is told, of a car with nothing wrong too', async () => {
    await accept(t, event, entry);
    t.clock.set('2026-06-16T08:00:00.000Z');
    onTestFinished(() => t.clock.set(TEST_NOW));
    await mailByTheClock(t.deps);
    const [mail] = await mails(`?entryId=${entry.entryId}`);
    const { body } = await t.api('organizer').get(`/v1/mails/${mail?.mailId}`);
    expect(body).toMatchObject({ kind: 'wear', text: expect.stringContaining('≥ 4 mm') });
  });

  test('of whom there is nothing to tell the clock does not ask again, and erasing forgets that it did', async () => {
    // rules that only look have no margin that could be told
    const rules = SMALL_RULE_SET.rules.filter(({ test: { kind } }) => kind === 'confirm');
    const looks = await createTestEvent(t, { ...SMALL_RULE_SET, parameters: {}, rules });
    const car = await createTestEntry(t, looks, { entrant: who });
    expect((await accept(t, looks, car)).status).toBe(201);
    const isDue = async () =>
      (await listWorn(t.deps.db.pool, t.clock.now())).some(({ entryId }) => entryId === car.entryId);
    t.clock.set('2026-06-16T08:00:00.000Z');
    onTestFinished(() => t.clock.set(TEST_NOW));
    expect(await isDue()).toBe(true);
    await mailByTheClock(t.deps);
    expect(await isDue()).toBe(false);
    expect(await t.deps.db.prisma.mail.count({ where: { entryId: car.entryId } })).toBe(0);
    await t.api('organizer').post(`/v1/entries/${car.entryId}/erase`).send({ reason: 'asked for it' }).expect(200);
    expect(await t.deps.db.prisma.mailUnsaid.count({ where: { entryId: car.entryId } })).toBe(0);
  });

  test('a link goes out once and is not kept; one that leads elsewhere is refused', async () => {
    const path = `/v1/entries/${entry.entryId}/mails`;
    const elsewhere = await t
      .api('organizer')
      .post(path)
      .send({ link: 'https://evil.example/garage#gw_aaaaaaaaaaaaaaaa' });
    expect(elsewhere.status).toBe(400);
    const link = 'https://tech.example.org/garage#gw_aaaaaaaaaaaaaaaa';
    expect((await t.api('organizer').post(path).send({ link })).status).toBe(202);
    const [mail] = await mails();
    await send(mail?.mailId ?? '');
    expect(readable(smtp.received[0] ?? '')).toContain(link);
    const { body } = await t.api('organizer').get(`/v1/mails/${mail?.mailId}`);
    expect(body.text).not.toContain('gw_aaaa');
  });

  test('erasing an entrant takes the messages away', async () => {
    await remind();
    t.clock.set('2026-06-20T08:00:00.000Z');
    onTestFinished(() => t.clock.set(TEST_NOW));
    const erased = await t.api('organizer').post(`/v1/entries/${entry.entryId}/erase`).send({ reason: 'asked for it' });
    expect(erased.status).toBeLessThan(300);
    expect(await mails()).toEqual([]);
  });

  test('off, nothing is written; kept, all can be read and nothing is sent', async () => {
    const off = { ...t.deps, config: { ...t.deps.config, mail: loadConfig({}).mail } };
    expect(off.config.mail.mode).toBe('off');
    expect(await mailByTheClock(off)).toBe(0);
    const keep = { ...t.deps, config: { ...t.deps.config, mail: loadConfig({ MAIL: 'keep' }).mail } };
    const answer = await submit(t, entry, GOOD_ANSWERS);
    await runOrdered(t, answer, inspectionNotifyJob);
    const [row] = await t.deps.db.prisma.outbox.findMany({ where: { name: mailWriteJob.name, doneAt: null } });
    await mailWriteJob.handle(keep, mailWriteJob.payload.parse(row?.payload), context);
    expect(await mails()).toMatchObject([{ kind: 'receipt', state: 'kept' }]);
    expect(smtp.received).toEqual([]);
  });
});

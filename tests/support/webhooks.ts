import { createServer, type IncomingHttpHeaders, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { Webhook } from 'standardwebhooks';
import { vi } from 'vitest';
import { JOBS } from '../../src/worker.ts';
import type { TestApp } from './app.ts';
import { JOB_CONTEXT } from './jobs.ts';
import { sql } from './records.ts';
import { sealed } from './sealed.ts';

export interface Received {
  headers: IncomingHttpHeaders;
  body: string;
}

export interface Answer {
  status: number;
  headers?: Record<string, string>;
  body?: string;
}

/** What a receiver answers, by the number of the request (from 1) and its path. */
export type Answers = (count: number, path: string) => Answer | Promise<Answer>;

export interface Receiver {
  url: string;
  received: Received[];
  answers: Answers;
  close(): void;
}

/** A receiver on this machine; answers 204 unless told. */
export async function startReceiver(answers: Answers = () => ({ status: 204 })): Promise<Receiver> {
  const receiver: Receiver = { url: '', received: [], answers, close: () => undefined };
  const serve = async (request: IncomingMessage, reply: ServerResponse) => {
    const parts: Buffer[] = [];
    for await (const part of request) parts.push(part as Buffer);
    receiver.received.push({ headers: request.headers, body: Buffer.concat(parts).toString() });
    const { status, headers = {}, body = '' } = await receiver.answers(receiver.received.length, request.url ?? '');
    reply.writeHead(status, headers).end(body);
  };
  const server = createServer((request, reply) => {
    serve(request, reply).catch(() => reply.destroy());
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  receiver.url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/in`;
  receiver.close = () => {
    server.closeAllConnections();
    server.close();
  };
  return receiver;
}

/** The independent check of a message, with the machine's clock at the test's. Returns the message; throws when forged. */
export function verify(t: TestApp, secret: string, { headers, body }: Received): Record<string, unknown> {
  vi.useFakeTimers({ toFake: ['Date'], now: t.clock.now() });
  try {
    return new Webhook(secret).verify(body, headers as Record<string, string>) as Record<string, unknown>;
  } finally {
    vi.useRealTimers();
  }
}

/** Runs the webhook jobs that the outbox holds and that are due by the test's clock, as relay and worker would. */
export async function runDueJobs(t: TestApp): Promise<number> {
  // The messages are ordered where the rows are sealed.
  await sealed(t);
  for (let ran = 0; ; ) {
    const rows = await sql<{ id: string; name: string; payload: unknown }>(
      t,
      `SELECT id, name, payload FROM outbox WHERE name LIKE 'webhook.%' AND done_at IS NULL
         AND (run_at IS NULL OR run_at <= $1) ORDER BY created_at, id`,
      [t.clock.now()],
    );
    if (rows.length === 0) return ran;
    for (const { id, name, payload } of rows) {
      await runJob(t, name, payload);
      await sql(t, 'UPDATE outbox SET done_at = now() WHERE id = $1', [id]);
      ran += 1;
    }
  }
}

/** Runs one job by its name, whether it was ordered or not. */
export async function runJob(t: TestApp, name: string, payload: unknown): Promise<void> {
  const job = JOBS.find((one) => one.name === name);
  if (job === undefined) throw new Error(`no job ${name}`);
  await job.handle(t.deps, job.payload.parse(payload), JOB_CONTEXT);
}

export async function createHook(t: TestApp, body: Record<string, unknown>) {
  const created = await t.api('organizer').post('/v1/webhooks').send(body).expect(201);
  return created.body as { webhookId: string; secret: string };
}

export async function readHook(t: TestApp, webhookId: string): Promise<Record<string, unknown>> {
  return (await t.api('organizer').get(`/v1/webhooks/${webhookId}`).expect(200)).body;
}

export interface Delivery {
  deliveryId: string;
  messageId: string;
  type: string;
  state: string;
  dueAt?: string;
  body: string;
  attempts: { number: number; status?: number; answer?: string; error?: string; durationMs: number }[];
}

/** Newest first. */
export async function deliveriesOf(t: TestApp, webhookId: string, query = ''): Promise<Delivery[]> {
  const page = await t.api('organizer').get(`/v1/webhooks/${webhookId}/deliveries${query}`).expect(200);
  return page.body.deliveries as Delivery[];
}

/** Orders a test message and returns its delivery. */
export async function ping(t: TestApp, webhookId: string): Promise<Delivery> {
  return (await t.api('organizer').post(`/v1/webhooks/${webhookId}/test`).expect(202)).body as Delivery;
}

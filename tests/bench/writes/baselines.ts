import Fastify from 'fastify';
import pg from 'pg';
import { v7 as uuidV7 } from 'uuid';
import { type Database, surviveLostConnections, type Tx } from '../../../src/platform/database/db.ts';
import type { Prisma } from '../../../src/platform/prisma-client/client.ts';

export const OPERATIONS = ['submit', 'sign-off', 'hold', 'draft'] as const;
export type Operation = (typeof OPERATIONS)[number];

/** The rows that one real operation wrote, by table, each as JSON text. */
export type WrittenRows = readonly { table: string; json: string }[];

/** All rows whose present version one transaction wrote. */
export async function rowsOf(pool: pg.Pool, xid: string): Promise<WrittenRows> {
  const { rows: tables } = await pool.query<{ name: string }>(
    `SELECT table_name AS name FROM information_schema.tables
     WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND table_name NOT LIKE 'bench%' ORDER BY 1`,
  );
  const found: { table: string; json: string }[] = [];
  for (const { name } of tables) {
    const { rows } = await pool.query<{ json: string }>(
      `SELECT to_jsonb(t)::text AS json FROM "${name}" t WHERE t.xmin::text = $1`,
      [xid],
    );
    found.push(...rows.map(({ json }) => ({ table: name, json })));
  }
  return found;
}

interface BareInput {
  Params: { operation: Operation };
}

/**
 * A bare route that writes the same number of rows of the same bytes in one transaction of prepared inserts. It reads the body of
 * the request and nothing else: no token, no checks, no lock, no judgement, and answers with an id.
 */
export async function startBare(options: pg.PoolConfig, written: Readonly<Record<Operation, WrittenRows>>) {
  const pool = new pg.Pool({ ...options, application_name: 'gridworthy-bench-bare' });
  surviveLostConnections(pool, () => undefined);
  await pool.query('CREATE TABLE bench_rows (id uuid PRIMARY KEY, doc jsonb NOT NULL)');
  const app = Fastify();
  const insert = (client: pg.Pool | pg.PoolClient, json: string) =>
    client.query({
      name: 'bench-insert',
      text: 'INSERT INTO bench_rows VALUES ($1, $2)',
      values: [uuidV7(), json],
    });
  app.all<BareInput>('/bare/:operation', async ({ params }, reply) => {
    const [first, ...more] = written[params.operation];
    if (more.length === 0) await insert(pool, first?.json ?? '{}');
    else {
      const client = await pool.connect();
      await client.query('BEGIN');
      for (const { json } of written[params.operation]) await insert(client, json);
      await client.query('COMMIT');
      client.release();
    }
    return reply.code(201).send({ id: uuidV7() });
  });
  const base = await app.listen({ port: 0, host: '127.0.0.1' });
  return {
    base,
    async close() {
      await app.close();
      await pool.end();
    },
  };
}

type Doc = Record<string, unknown>;
const json = (value: unknown) => value as Prisma.InputJsonValue;

/** The rows of a table as the real operation wrote them. */
function docsOf(written: WrittenRows, table: string): Doc[] {
  return written.filter((row) => row.table === table).map((row) => JSON.parse(row.json) as Doc);
}

interface CrudInput {
  Params: { operation: Operation; id: string };
  Headers: { 'idempotency-key'?: string };
}

/**
 * The same as CRUD is usually written with the ORM: one interactive transaction that reads the entry with what belongs to it, and
 * makes or changes one row after the other, with the same content as the real operation. It decides nothing, and may take its time.
 */
export async function startCrud(database: Database, written: Readonly<Record<Operation, WrittenRows>>) {
  const app = Fastify({ bodyLimit: 1_000_000 });
  const remember = async (tx: Tx, operation: Operation, route: string, key: string) => {
    const [doc] = docsOf(written[operation], 'idempotency');
    if (doc === undefined) return;
    const where = { principal: String(doc['principal']), route, key };
    if ((await tx.idempotency.findUnique({ where: { principal_route_key: where } })) !== null) return;
    const { fingerprint, status, headers, body } = doc;
    const expiresAt = new Date(Date.now() + 1_000_000_000);
    const data = { fingerprint: String(fingerprint), status: Number(status), headers: json(headers), body: json(body) };
    await tx.idempotency.create({ data: { ...where, ...data, expiresAt } });
  };
  app.all<CrudInput>('/crud/:operation/:id', async ({ params: { operation, id }, headers }, reply) => {
    await database.prisma.$transaction(
      async (tx) => {
        await CRUD[operation](tx, id, written[operation]);
        await remember(tx, operation, `crud ${id}`, headers['idempotency-key'] ?? '');
      },
      { maxWait: 60_000, timeout: 60_000 },
    );
    return reply.code(201).send({ id });
  });
  const base = await app.listen({ port: 0, host: '127.0.0.1' });
  return { base, close: () => app.close() };
}

async function entryOf(tx: Tx, entryId: string) {
  return tx.entry.findUniqueOrThrow({
    where: { id: entryId },
    include: { clearance: true, draft: true, vehicle: true, runGroup: true, event: { include: { venue: true } } },
  });
}
type CrudEntry = Awaited<ReturnType<typeof entryOf>>;

async function addHistory(tx: Tx, entry: CrudEntry, written: WrittenRows): Promise<void> {
  const { clearance } = entry;
  if (clearance === null) throw new Error('the entry has no clearance');
  const car = await tx.carClearance.findUniqueOrThrow({ where: { id: clearance.carId } });
  const hash = 'bench';
  for (const doc of docsOf(written, 'history')) {
    const row = {
      action: String(doc['action']),
      actorId: String(doc['actor_id']),
      actorRole: String(doc['actor_role']),
      actorName: String(doc['actor_name']),
      at: new Date(),
      data: json(doc['data']),
      requestId: String(doc['request_id']),
      prevHash: hash,
      hash,
      eventId: entry.eventId,
    };
    if (doc['car_id'] === null) {
      const seq = clearance.historySeq + 1;
      await tx.history.create({ data: { ...row, entryId: entry.id, seq } });
      const changed = { historySeq: seq, historyHash: hash, facts: json(clearance.facts), rev: { increment: 1 } };
      await tx.clearance.update({ where: { entryId: entry.id }, data: changed });
    } else {
      const seq = car.historySeq + 1;
      await tx.history.create({ data: { ...row, carId: car.id, seq } });
      const changed = { historySeq: seq, historyHash: hash, facts: json(car.facts), rev: { increment: 1 } };
      await tx.carClearance.update({ where: { id: car.id }, data: changed });
    }
  }
}

async function addOutbox(tx: Tx, written: WrittenRows): Promise<void> {
  for (const { name, payload } of docsOf(written, 'outbox')) {
    await tx.outbox.create({
      data: { name: String(name), payload: json(payload), publishedAt: new Date(0), doneAt: new Date(0) },
    });
  }
}

const CRUD: Record<Operation, (tx: Tx, id: string, written: WrittenRows) => Promise<void>> = {
  async submit(tx, id, written) {
    const entry = await entryOf(tx, id);
    const [doc = {}] = docsOf(written, 'inspections');
    const inspection = await tx.inspection.create({
      data: {
        entryId: id,
        revision: (await tx.inspection.count({ where: { entryId: id } })) + 1,
        answers: json(doc['answers']),
        vehicle: json(doc['vehicle']),
        context: json(doc['context']),
        ruleSetId: String(doc['rule_set_id']),
        ruleSetVersion: Number(doc['rule_set_version']),
        parameters: json(doc['parameters']),
        resolvedHash: String(doc['resolved_hash']),
        verdict: String(doc['verdict']),
        findings: json(doc['findings']),
        codes: String(doc['codes']),
        evaluator: String(doc['evaluator']),
        findingsSha256: String(doc['findings_sha256']),
        submittedBy: String(doc['submitted_by']),
        submittedName: String(doc['submitted_name']),
      },
    });
    const answers = json(doc['answers']);
    const draft = { answers, updatedBy: inspection.submittedBy };
    const where = { entryId: id };
    await tx.draft.upsert({ where, create: { entryId: id, ...draft }, update: { ...draft, rev: { increment: 1 } } });
    await tx.ticket.updateMany({
      where: { entryId: id, state: { in: ['waiting', 'claimed'] } },
      data: { state: 'void', closedAt: new Date() },
    });
    const { eventId } = entry;
    await tx.ticket.create({ data: { eventId, entryId: id, inspectionId: inspection.id, queuedAt: new Date() } });
    await addHistory(tx, entry, written);
    await addOutbox(tx, written);
  },
  async 'sign-off'(tx, id, written) {
    const claim = await tx.claim.findUniqueOrThrow({
      where: { id },
      include: { ticket: { include: { inspection: true } } },
    });
    const { ticket } = claim;
    const entry = await entryOf(tx, ticket.entryId);
    const [doc = {}] = docsOf(written, 'sign_offs');
    await tx.signOff.create({
      data: {
        eventId: entry.eventId,
        entryId: entry.id,
        inspectionId: ticket.inspectionId,
        claimId: id,
        decision: String(doc['decision']),
        checks: json(doc['checks']),
        findings: json(doc['findings']),
        evaluator: String(doc['evaluator']),
        // as PostgreSQL writes bytes: `\\x` and their hexadecimal
        lists: Buffer.from(String(doc['lists']).slice(2), 'hex'),
        listsSha256: String(doc['lists_sha256']),
        verdict: String(doc['verdict']),
        stickerNumber: id.slice(-12),
        validFrom: new Date(),
        validUntil: new Date(),
        signedBy: claim.inspectorId,
        signedName: claim.inspectorName,
      },
    });
    await tx.ticket.update({ where: { id: ticket.id }, data: { state: 'done', closedAt: new Date() } });
    await tx.claim.update({ where: { id }, data: { endedAt: new Date(), endReason: 'signed-off' } });
    await addHistory(tx, entry, written);
    await addOutbox(tx, written);
  },
  async hold(tx, id, written) {
    const entry = await entryOf(tx, id);
    const [doc = {}] = docsOf(written, 'holds');
    const by = { placedBy: String(doc['placed_by']), placedName: String(doc['placed_name']) };
    const carId = entry.clearance?.carId ?? null;
    await tx.hold.create({ data: { entryId: id, reason: String(doc['reason']), ...by, carId, about: 'car' } });
    await addHistory(tx, entry, written);
    await addOutbox(tx, written);
  },
  async draft(tx, id, written) {
    const [doc = {}] = docsOf(written, 'drafts');
    const entry = await entryOf(tx, id);
    const data = { answers: json(doc['answers']), updatedBy: String(doc['updated_by']) };
    const where = { entryId: entry.id };
    await tx.draft.upsert({ where, create: { ...where, ...data }, update: { ...data, rev: { increment: 1 } } });
  },
};

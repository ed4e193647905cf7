import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { v7 as uuidV7 } from 'uuid';
import { applyMigrations } from '../../prisma/migrate.ts';
import { loadConfig } from '../../src/config.ts';
import { type Deps, openDeps } from '../../src/deps.ts';
import { findItem } from '../../src/domain/catalogue/catalogue.ts';
import type { AnswerType } from '../../src/domain/catalogue/item.ts';
import {
  type Answers,
  type AnswerValue,
  parseAnswers,
  parseCellKey,
} from '../../src/domain/declaration/declaration.ts';
import { type CompiledRuleSet, evaluate } from '../../src/domain/rules/judge/evaluate.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import { startEmbeddedPostgres } from '../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../src/platform/logger.ts';
import type { Prisma } from '../../src/platform/prisma-client/client.ts';

const json = (value: unknown) => JSON.parse(JSON.stringify(value)) as Prisma.InputJsonObject;
const BY = { tokenId: '00000000-0000-7000-8000-000000000001', name: 'Bench' };

/** A number that is possible for the item: the bench's cars are made for rules, not for the catalogue. */
function possible(type: AnswerType, field: string | undefined, value: AnswerValue): AnswerValue {
  const simple = type.kind === 'fields' ? type.fields[field ?? '']?.type : type;
  if (simple?.kind !== 'number' || typeof value !== 'number') return value;
  return Math.min(Math.max(value, simple.min), simple.max);
}

/** The car with answers that the catalogue takes, as they come out of it. */
export function declarable(car: JudgeInput): JudgeInput {
  const answers = new Map(
    [...car.answers].map(([cell, value]) => {
      const { key, field } = parseCellKey(cell);
      const type = findItem(key)?.answer;
      return [cell, type === undefined ? value : possible(type, field, value)] as const;
    }),
  );
  const parsed = parseAnswers(rawOf(answers));
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return { ...car, answers: parsed.answers, photos: {}, stage: 'declaration' };
}

/** Answers as an entrant sends them. */
function rawOf(answers: Answers): Record<string, unknown> {
  const raw: Record<string, unknown> = {};
  const child = (of: Record<string, unknown>, name: string) => (of[name] ??= {}) as Record<string, unknown>;
  for (const [cell, value] of answers) {
    const { key, position, field } = parseCellKey(cell);
    const steps = [key, position, field].filter((step) => step !== undefined);
    const last = steps.pop() ?? key;
    steps.reduce(child, raw)[last] = value;
  }
  return raw;
}

export interface BenchDatabase {
  deps: Deps;
  stop(): Promise<void>;
}

/** A database of its own with production settings, in a folder that goes when it stops. */
export async function startBenchDatabase(): Promise<BenchDatabase> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-bench-'));
  await chmod(folder, 0o711);
  const log = createLogger({ level: 'warn' });
  const embedded = await startEmbeddedPostgres({ dataDir: join(folder, 'data'), log });
  await applyMigrations(embedded.url);
  const deps = openDeps(loadConfig({}), embedded.url, log);
  return {
    deps,
    async stop() {
      await deps.db.close();
      await embedded.stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

async function fillEvent(
  deps: Deps,
  document: unknown,
): Promise<{ eventId: string; ruleSetId: string; runGroupId: string }> {
  const db = deps.db.prisma;
  const [venueId, eventId, ruleSetId, runGroupId] = [uuidV7(), uuidV7(), uuidV7(), uuidV7()];
  const day = new Date('2026-11-28T00:00:00Z');
  await db.venue.create({ data: { id: venueId, name: 'Bench circuit', timeZone: 'Europe/Berlin', details: {} } });
  const window = { declarationsOpenAt: new Date('2026-11-01T00:00:00Z'), declarationsCloseAt: day };
  await db.event.create({
    data: { id: eventId, venueId, name: 'Bench event', startsOn: day, endsOn: day, ...window },
  });
  await db.ruleSet.create({ data: { id: ruleSetId, name: 'Bench rules', draft: json(document) } });
  const published = { contentHash: 'bench', changelog: 'First', publishedBy: BY.tokenId, publishedName: BY.name };
  await db.ruleSetVersion.create({ data: { ruleSetId, version: 1, document: json(document), ...published } });
  const rules = { ruleSetId, ruleSetVersion: 1, parameters: {} };
  await db.runGroup.create({
    data: { id: runGroupId, eventId, name: 'Bench group', sortOrder: 1, firstSessionAt: day, ...rules },
  });
  return { eventId, ruleSetId, runGroupId };
}

/** Stores one event with a declaration of each car, as it was judged under the rules before. */
export async function fillDeclarations(
  deps: Deps,
  document: unknown,
  before: CompiledRuleSet,
  cars: readonly JudgeInput[],
): Promise<{ eventId: string; ruleSetId: string }> {
  const { eventId, ruleSetId, runGroupId } = await fillEvent(deps, document);
  const db = deps.db.prisma;
  for (const [index, car] of cars.entries()) {
    const [vehicleId, entryId] = [uuidV7(), uuidV7()];
    await db.vehicle.create({ data: { id: vehicleId, record: json(car.vehicle) } });
    const people = { entrant: {}, people: [], personKeys: [], createdBy: BY.tokenId };
    await db.entry.create({
      data: { id: entryId, eventId, runGroupId, vehicleId, carNumber: String(index), ...people },
    });
    const { verdict, findings } = evaluate(before, car);
    const context = { event: car.event, venue: { timeZone: 'Europe/Berlin', ...car.venue } };
    const judged = { ruleSetId, ruleSetVersion: 1, parameters: {}, verdict, findings: json(findings) };
    const stored = { vehicle: json(car.vehicle), context: json(context), answers: json(rawOf(car.answers)) };
    const by = { submittedBy: BY.tokenId, submittedName: BY.name };
    await db.inspection.create({ data: { entryId, revision: 1, ...stored, ...judged, ...by } });
  }
  return { eventId, ruleSetId };
}

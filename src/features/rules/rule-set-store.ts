import type { Actor } from '../../domain/actor.ts';
import type { JsonObject } from '../../http/body/json-body.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';
import type { Draft } from './publish.ts';
import type { RuleSetList, VersionView } from './rule-set-schemas.ts';

export interface StoredRuleSet {
  ruleSetId: string;
  name: string;
  document: JsonObject;
  /** the draft as it was written, where that was YAML */
  text: string | undefined;
  latestVersion: number | undefined;
  createdAt: Date;
  rev: number;
}

interface Row {
  id: string;
  name: string;
  draft: Prisma.JsonValue;
  draftText: string | null;
  rev: number;
  createdAt: Date;
  versions: { version: number }[];
}

interface VersionRow {
  ruleSetId: string;
  version: number;
  document?: Prisma.JsonValue;
  contentHash: string;
  changelog: string;
  publishedName: string;
  publishedAt: Date;
  retirement?: { reason: string; retiredName: string; retiredAt: Date } | null;
}

const LATEST = { versions: { select: { version: true }, orderBy: { version: 'desc' as const }, take: 1 } };

const RETIREMENT = { retirement: { select: { reason: true, retiredName: true, retiredAt: true } } };

const toJson = (document: JsonObject) => document as Prisma.InputJsonObject;
// Only objects are ever written to these columns.
const fromJson = (document: Prisma.JsonValue) => document as JsonObject;

function toStored({ id, draft, draftText, versions, ...row }: Row): StoredRuleSet {
  const latestVersion = versions[0]?.version;
  return { ...row, ruleSetId: id, document: fromJson(draft), text: draftText ?? undefined, latestVersion };
}

function toRetired({ retirement }: VersionRow): Pick<VersionView, 'retired'> {
  if (retirement === undefined || retirement === null) return {};
  const { reason, retiredName, retiredAt } = retirement;
  return { retired: { at: retiredAt.toISOString(), by: retiredName, reason } };
}

function toVersion(row: VersionRow): Omit<VersionView, 'document'> {
  return {
    ruleSetId: row.ruleSetId,
    version: row.version,
    contentHash: row.contentHash,
    changelog: row.changelog,
    publishedAt: row.publishedAt.toISOString(),
    publishedBy: row.publishedName,
    ...toRetired(row),
  };
}

export async function insertRuleSet(db: Tx, { name, document, text }: Draft): Promise<StoredRuleSet> {
  const data = { name, draft: toJson(document), draftText: text ?? null };
  return toStored(await db.ruleSet.create({ data, include: LATEST }));
}

export async function findRuleSet(db: Tx, ruleSetId: string): Promise<StoredRuleSet | undefined> {
  const row = await db.ruleSet.findUnique({ where: { id: ruleSetId }, include: LATEST });
  return row === null ? undefined : toStored(row);
}

export async function listRuleSets(db: Tx): Promise<RuleSetList['ruleSets']> {
  const select = { id: true, name: true, createdAt: true, ...LATEST };
  const rows = await db.ruleSet.findMany({ select, orderBy: { id: 'asc' } });
  return rows.map((row) => ({
    ruleSetId: row.id,
    name: row.name,
    latestVersion: row.versions[0]?.version,
    createdAt: row.createdAt.toISOString(),
  }));
}

/** A rule set of this name whose newest version has exactly this content and stands. */
export async function findSameSet(
  db: Tx,
  name: string,
  contentHash: string,
): Promise<{ ruleSetId: string; version: number } | undefined> {
  const rows = await db.ruleSet.findMany({ where: { name }, select: { id: true }, orderBy: { id: 'asc' } });
  for (const { id: ruleSetId } of rows) {
    const newest = await db.ruleSetVersion.findFirst({
      where: { ruleSetId },
      orderBy: { version: 'desc' },
      select: { version: true, contentHash: true, retirement: { select: { version: true } } },
    });
    if (newest?.contentHash === contentHash && newest.retirement === null)
      return { ruleSetId, version: newest.version };
  }
  return undefined;
}

/** Replaces the draft if it still has the version `rev`; undefined when it has moved on. */
export async function updateDraft(
  db: Tx,
  ruleSetId: string,
  rev: number,
  { name, document, text }: Draft,
): Promise<StoredRuleSet | undefined> {
  const { count } = await db.ruleSet.updateMany({
    where: { id: ruleSetId, rev },
    data: { name, draft: toJson(document), draftText: text ?? null, rev: { increment: 1 } },
  });
  return count === 0 ? undefined : findRuleSet(db, ruleSetId);
}

/** Locks the rule set so that versions are numbered one after the other; returns the rev of its draft. */
export async function lockRuleSet(tx: Tx, ruleSetId: string): Promise<number | undefined> {
  const rows = await tx.$queryRaw<{ rev: number }[]>`
    SELECT rev FROM rule_sets WHERE id = ${ruleSetId}::uuid FOR UPDATE`;
  return rows[0]?.rev;
}

export async function findLatestVersion(
  db: Tx,
  ruleSetId: string,
): Promise<{ version: number; contentHash: string } | undefined> {
  const select = { version: true, contentHash: true };
  return (
    (await db.ruleSetVersion.findFirst({ where: { ruleSetId }, orderBy: { version: 'desc' }, select })) ?? undefined
  );
}

export async function insertVersion(
  tx: Tx,
  actor: Actor,
  row: {
    ruleSetId: string;
    version: number;
    document: JsonObject;
    contentHash: string;
    changelog: string;
    publishedAt: Date;
  },
): Promise<Omit<VersionView, 'document'>> {
  const data = { ...row, document: toJson(row.document), publishedBy: actor.tokenId, publishedName: actor.name };
  return toVersion(await tx.ruleSetVersion.create({ data }));
}

export async function listVersions(db: Tx, ruleSetId: string): Promise<Omit<VersionView, 'document'>[]> {
  const rows = await db.ruleSetVersion.findMany({
    where: { ruleSetId },
    omit: { document: true },
    include: RETIREMENT,
    orderBy: { version: 'desc' },
  });
  return rows.map(toVersion);
}

export async function findVersion(db: Tx, ruleSetId: string, version: number): Promise<VersionView | undefined> {
  const row = await db.ruleSetVersion.findUnique({
    where: { ruleSetId_version: { ruleSetId, version } },
    include: RETIREMENT,
  });
  return row === null ? undefined : { ...toVersion(row), document: fromJson(row.document) };
}

/** A second retirement of the same version is refused by its key. */
export async function insertRetirement(
  db: Tx,
  actor: Actor,
  row: { ruleSetId: string; version: number; reason: string; retiredAt: Date },
): Promise<void> {
  await db.ruleSetRetirement.create({ data: { ...row, retiredBy: actor.tokenId, retiredName: actor.name } });
}

import type { Said } from '../../domain/declaration/basis.ts';
import {
  type Finding,
  type Judgement,
  type Tally,
  tallyOf,
  thatCount,
  type Verdict,
} from '../../domain/rules/model/finding.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { CATALOGUE_VERSION } from '../../domain/catalogue/catalogue.ts';
import { findProgram, type Program } from '../../domain/rules/compile/program.ts';
import { type CompiledRuleSet, EVALUATOR_VERSION } from '../../domain/rules/judge/evaluate.ts';
import { type CodedFinding, codesOf, readCodes, tallyOfCodes, toldFindings } from '../../domain/rules/model/codes.ts';
import type { JudgeInput } from '../../domain/rules/judge/run.ts';
import { inBytes, listed, sha256 } from '../../platform/canonical-json.ts';
import { canonicalFinding } from '../../domain/rules/model/canonical-finding.ts';
import type { KeptContext } from './judge-entry.ts';

/** Names all of this server that judges besides what is kept with an inspection: how it judges, and what can be asked. */
export const EVALUATOR = `${EVALUATOR_VERSION}.${CATALOGUE_VERSION}`;

/** What is kept of a judgement besides its verdict and the findings that count. */
export interface KeptCodes {
  /** a letter for each place, after the name of the places: `3f0c…:mmB-m` */
  codes: string;
  evaluator: string;
  /** of the canonical list of all findings, lower-case hexadecimal */
  findingsSha256: string;
}

/** What of a judgement is written down. */
export interface KeptFindings {
  /** those that count */
  findings: Finding[];
  kept: KeptCodes;
}

/** Findings as a row has them: those that count with what is kept of the others, or all of them where `kept` is null. */
export interface StoredFindings {
  findings: readonly Finding[];
  kept: KeptCodes | null;
}

/** What names the rules for one kind of car: by it their places are the same. */
type PlacedBy = Pick<JudgeInput, 'parameters' | 'event' | 'vehicle'>;

export function keepFindings(compiled: CompiledRuleSet, by: PlacedBy, { findings }: Judgement): KeptFindings {
  const program = findProgram(compiled, by);
  const codes = `${nameOfPlaces(program)}:${codesOf(program.heads, findings)}`;
  const findingsSha256 = digestOfFindings(findings);
  return { findings: thatCount(findings), kept: { codes, evaluator: EVALUATOR, findingsSha256 } };
}

/** SHA-256 of the canonical list, in lower-case hexadecimal. */
export const digestOfFindings = (findings: readonly Finding[]): string =>
  sha256(inBytes(['[', ...listed(findings.map(canonicalFinding)), ']']));

const names = new WeakMap<Program, string>();

/** Programs with the same name have the same places in the same order. */
function nameOfPlaces(program: Program): string {
  const known = names.get(program);
  if (known !== undefined) return known;
  const name = sha256(program.heads.map(({ ruleId, position }) => `${ruleId}@${position ?? ''}`).join('\n'));
  names.set(program, name.slice(0, 12));
  return name.slice(0, 12);
}

/** What letters say by place; undefined where the rules have other places for this car now, or in another order. */
export function codedFindings(compiled: CompiledRuleSet, by: PlacedBy, codes: string): CodedFinding[] | undefined {
  const program = findProgram(compiled, by);
  const [name, letters = ''] = codes.split(':');
  return name === nameOfPlaces(program) ? readCodes(program.heads, letters) : undefined;
}

/** How many findings there were, by what they did. */
export const tallyOfStored = ({ findings, kept }: StoredFindings): Tally =>
  kept === null ? tallyOf(findings) : tallyOfCodes(kept.codes.slice(kept.codes.indexOf(':') + 1));

/** All findings that were told, and whether the same comes out again. */
export interface ToldFindings {
  findings: readonly Finding[];
  /** `differs`: the server judges otherwise than when it was told; what was told then stands */
  judgedAgain: 'same' | 'differs';
}

/** All findings of a stored judgement, with the help of the same judged again. It changes nothing that was decided. */
export function tellWhole(
  compiled: CompiledRuleSet,
  by: PlacedBy,
  { findings, kept }: StoredFindings,
  again: readonly Finding[],
): ToldFindings {
  const digest = kept?.findingsSha256 ?? digestOfFindings(findings);
  const isSame = digestOfFindings(again) === digest;
  if (kept === null) return { findings, judgedAgain: isSame ? 'same' : 'differs' };
  if (isSame) return { findings: again, judgedAgain: 'same' };
  const codes = codedFindings(compiled, by, kept.codes);
  const { heads } = findProgram(compiled, by);
  return { findings: toldFindings(heads, { codes, counting: findings }, again), judgedAgain: 'differs' };
}

/** A submitted revision as it was judged, with what judged it. */
export interface StoredInspection {
  inspectionId: string;
  entryId: string;
  carNumber: string;
  revision: number;
  answers: Record<string, unknown>;
  /** which answers a shop signed */
  said: Said;
  vehicle: Vehicle;
  context: KeptContext;
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  /** `rejudged`: the answers of an earlier revision under other rules */
  cause: 'submitted' | 'rejudged';
  parameters: Record<string, ParameterOverride>;
  verdict: Verdict;
  /** those that count; all of them where `kept` is null */
  findings: Finding[];
  /** null in what was stored before only what counts was kept */
  kept: KeptCodes | null;
  submittedAt: Date;
  submittedName: string;
}

const withCar = { entry: { select: { carNumber: true } } } as const;
type Row = Prisma.InspectionGetPayload<{ include: typeof withCar }>;

// The JSON columns are written by `insertInspection` only, from typed values, and a trigger keeps them as they are.
function toStored(row: Row): StoredInspection {
  return {
    inspectionId: row.id,
    entryId: row.entryId,
    carNumber: row.entry.carNumber,
    revision: row.revision,
    answers: row.answers as Record<string, unknown>,
    said: row.said as Said,
    vehicle: row.vehicle as unknown as Vehicle,
    context: row.context as unknown as StoredInspection['context'],
    ruleSetId: row.ruleSetId,
    ruleSetVersion: row.ruleSetVersion,
    resolvedHash: row.resolvedHash,
    cause: row.cause as StoredInspection['cause'],
    parameters: row.parameters as StoredInspection['parameters'],
    verdict: row.verdict as Verdict,
    findings: row.findings as unknown as Finding[],
    kept: keptOf(row),
    submittedAt: row.submittedAt,
    submittedName: row.submittedName,
  };
}

// A check of the database keeps the three together.
function keptOf({
  codes,
  evaluator,
  findingsSha256,
}: Pick<Row, 'codes' | 'evaluator' | 'findingsSha256'>): KeptCodes | null {
  return codes === null || evaluator === null || findingsSha256 === null ? null : { codes, evaluator, findingsSha256 };
}

/** How many findings a row has, by what they did, in whichever form it keeps them. */
export const tallyOfRow = (row: Pick<Row, 'findings' | 'codes' | 'evaluator' | 'findingsSha256'>): Tally =>
  tallyOfStored({ findings: row.findings as unknown as Finding[], kept: keptOf(row) });

export async function findInspection(db: Tx, inspectionId: string): Promise<StoredInspection | undefined> {
  const row = await db.inspection.findUnique({ where: { id: inspectionId }, include: withCar });
  return row === null ? undefined : toStored(row);
}

/** All revisions of an entry, newest first. */
export async function listInspections(db: Tx, entryId: string): Promise<StoredInspection[]> {
  const rows = await db.inspection.findMany({ where: { entryId }, include: withCar, orderBy: { revision: 'desc' } });
  return rows.map(toStored);
}

export interface NewInspection {
  inspectionId: string;
  entryId: string;
  revision: number;
  answers: Record<string, unknown>;
  /** which answers a shop signed */
  said: Said;
  vehicle: unknown;
  /** event days, venue, earlier events and photos as they were: `keptContext` */
  context: unknown;
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  cause: StoredInspection['cause'];
  parameters: Readonly<Record<string, ParameterOverride>>;
  verdict: Verdict;
  /** those that count */
  findings: readonly Finding[];
  kept: KeptCodes;
  by: { tokenId: string; name: string };
  at: Date;
}

export async function insertInspection(tx: Tx, inspection: NewInspection): Promise<void> {
  await tx.$executeRaw(inspectionPart(inspection));
}

/** A revision as a part of one write. */
export function inspectionPart(inspection: NewInspection): Prisma.Sql {
  const { by, kept } = inspection;
  return Prisma.sql`
    INSERT INTO inspections (id, entry_id, revision, answers, said, vehicle, context, rule_set_id, rule_set_version,
      resolved_hash, cause, parameters, verdict, findings, codes, evaluator, findings_sha256, submitted_by, submitted_name,
      submitted_at)
    VALUES (${inspection.inspectionId}::uuid, ${inspection.entryId}::uuid, ${inspection.revision},
      ${JSON.stringify(inspection.answers)}::jsonb, ${JSON.stringify(inspection.said)}::jsonb,
      ${JSON.stringify(inspection.vehicle)}::jsonb,
      ${JSON.stringify(inspection.context)}::jsonb, ${inspection.ruleSetId}::uuid, ${inspection.ruleSetVersion},
      ${inspection.resolvedHash}, ${inspection.cause}, ${JSON.stringify(inspection.parameters)}::jsonb,
      ${inspection.verdict}, ${JSON.stringify(inspection.findings)}::jsonb, ${kept.codes}, ${kept.evaluator},
      ${kept.findingsSha256}, ${by.tokenId}::uuid, ${by.name},
      ${inspection.at}::timestamptz)`;
}

/** The number of the next revision of a locked entry: nobody else counts at the same time. */
export async function nextRevision(tx: Tx, entryId: string): Promise<number> {
  return (await tx.inspection.count({ where: { entryId } })) + 1;
}

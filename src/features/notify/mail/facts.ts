import type { Finding } from '../../../domain/rules/model/finding.ts';
import { findingsIn } from '../../../domain/rules/says/rule-words.ts';
import { viewClearance } from '../../../http/views/clearance-view.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { findInspection, type StoredInspection } from '../../../records/judging/inspections.ts';
import { withWhole } from '../../../records/judging/replay.ts';
import { getRules } from '../../../records/judging/rules.ts';
import { findPlace, type Place } from '../../../records/tickets.ts';
import { type Language, type MailKind, textOf } from './kinds.ts';
import { findClearanceState, type Recipient } from './facts-store.ts';

type Words = Record<string, string>;

const LOCALES: Readonly<Record<Language, string>> = { en: 'en-GB', de: 'de-DE' };

/** Day and time at the venue, in words. */
export function timeAt(instant: Date, timeZone: string, language: Language): string {
  return new Intl.DateTimeFormat(LOCALES[language], { dateStyle: 'full', timeStyle: 'short', timeZone }).format(
    instant,
  );
}

function daysOf({ startsOn, endsOn }: Recipient, language: Language): string {
  const format = new Intl.DateTimeFormat(LOCALES[language], { dateStyle: 'long', timeZone: 'UTC' });
  const [from, to] = [format.format(new Date(startsOn)), format.format(new Date(endsOn))];
  return startsOn === endsOn ? from : `${from} – ${to}`;
}

/** What every message can say. */
export async function commonWords(db: Tx, to: Recipient, language: Language): Promise<Words> {
  const { timeZone } = to;
  const place = await placeOf(db, to.entryId);
  return {
    name: to.name,
    number: to.carNumber,
    car: to.car,
    event: to.event,
    days: daysOf(to, language),
    group: to.runGroup,
    closes: timeAt(to.closesAt, timeZone, language),
    firstSession: timeAt(to.firstSessionAt, timeZone, language),
    place: place === undefined ? '' : placeText(place, timeZone, language),
  };
}

/** The told time where there is one, which makes the place idle; its lane where several are open. */
function placeText({ place, told }: Place, timeZone: string, language: Language): string {
  if (told === undefined) return textOf(language, 'place').replace('{place}', String(place));
  const time = timeAt(new Date(told.at), timeZone, language);
  const text = textOf(language, told.lane === undefined ? 'told' : 'told-lane');
  return text.replace('{time}', time).replace('{lane}', String(told.lane));
}

async function placeOf(db: Tx, entryId: string): Promise<Place | undefined> {
  const ticket = await db.ticket.findFirst({
    where: { entryId, state: { in: ['waiting', 'claimed'] } },
    select: { inspectionId: true },
  });
  return ticket === null ? undefined : findPlace(db, ticket.inspectionId);
}

/** What happened, in words: each kind reads what it is about. `id` is what it is about; undefined where that is gone. */
export async function ownWords(
  db: Tx,
  kind: MailKind,
  id: string,
  { to, language, now }: { to: Recipient; language: Language; now: Date },
): Promise<Words | undefined> {
  if (kind === 'receipt') return receiptWords(db, id, to, language);
  if (kind === 'signed') return signedWords(db, id, to, language);
  if (kind === 'hold') {
    const hold = await db.hold.findUnique({ where: { id }, select: { reason: true, liftedAt: true } });
    // A stop that was lifted meanwhile is told by the message after it.
    return hold === null || hold.liftedAt !== null ? undefined : { reason: hold.reason };
  }
  if (kind === 'lift') return gateWords(db, to, { language, now });
  if (kind === 'expires') {
    const signOff = await db.signOff.findUnique({ where: { id }, select: { validUntil: true } });
    return signOff?.validUntil == null ? undefined : { until: timeAt(signOff.validUntil, to.timeZone, language) };
  }
  if (kind === 'wear') return wearWords(db, to, language);
  return {};
}

async function gateWords(
  db: Tx,
  { entryId }: Recipient,
  how: { language: Language; now: Date },
): Promise<Words | undefined> {
  const state = await findClearanceState(db, entryId);
  if (state === undefined) return undefined;
  const { admit } = viewClearance(state, how.now);
  return { gate: textOf(how.language, admit ? 'gate.go' : 'gate.no') };
}

async function findingsOf(db: Tx, inspection: StoredInspection, language: Language): Promise<readonly Finding[]> {
  const { compiled } = await getRules(db, inspection);
  return findingsIn(inspection.findings, compiled.ruleSet, language);
}

const PARTS = [
  ['bar', 'fixes.must'],
  ['inspect', 'fixes.look'],
  ['advise', 'fixes.advice'],
] as const;
const MOST_FIXES = 40;

async function receiptWords(db: Tx, id: string, to: Recipient, language: Language): Promise<Words | undefined> {
  const inspection = await findInspection(db, id);
  if (inspection === undefined) return undefined;
  const findings = (await findingsOf(db, inspection, language)).filter(({ result }) => result !== 'met');
  const parts = PARTS.flatMap(([counts, title]) => {
    const lines = findings
      .filter((one) => one.counts === counts)
      .slice(0, MOST_FIXES)
      .map(({ title: what, position, message, fix }) => {
        const where = position === undefined ? '' : ` (${position})`;
        return `- ${what}${where}: ${counts === 'inspect' ? message : `${message} ${fix}`}`.trim();
      });
    return lines.length === 0 ? [] : [[textOf(language, title), ...lines].join('\n')];
  });
  const { verdict, submittedAt } = inspection;
  return {
    verdict: textOf(language, `verdict.${verdict}`),
    verdictShort: textOf(language, `verdictShort.${verdict}`),
    fixes: parts.join('\n\n'),
    submitted: timeAt(new Date(submittedAt), to.timeZone, language),
  };
}

async function signedWords(db: Tx, id: string, to: Recipient, language: Language): Promise<Words | undefined> {
  const signOff = await db.signOff.findUnique({
    where: { id },
    select: { decision: true, conditions: { select: { text: true, dueAt: true }, orderBy: { id: 'asc' } } },
  });
  if (signOff === null) return undefined;
  // a check of the database keeps the column
  const decision = signOff.decision as 'accept' | 'accept-with-conditions' | 'refuse';
  const conditions = signOff.conditions.map(({ text, dueAt }) => {
    const time =
      dueAt === null ? '' : `, ${textOf(language, 'by').replace('{time}', timeAt(dueAt, to.timeZone, language))}`;
    return `- ${text}${time}`;
  });
  return {
    decision: textOf(language, `decision.${decision}`),
    decisionShort: textOf(language, `decisionShort.${decision}`),
    conditions: conditions.join('\n'),
  };
}

const MOST_WORN = 5;

/** What was measured closest to its limit, by the share of the limit that is left; undefined where nothing has a margin. */
async function wearWords(db: Tx, { entryId }: Recipient, language: Language): Promise<Words | undefined> {
  const newest = await db.inspection.findFirst({
    where: { entryId },
    orderBy: { revision: 'desc' },
    select: { id: true },
  });
  const inspection = newest === null ? undefined : await findInspection(db, newest.id);
  if (inspection === undefined) return undefined;
  // What is met has a margin too, and is not kept with the row.
  const worn = (await findingsOf(db, await withWhole(db, inspection), language))
    .flatMap((finding) => {
      const { margin, measured, title, position, limit, items } = finding;
      const isWear = items.some((item) => WEARS.test(item));
      if (!isWear || margin === undefined || typeof measured?.value !== 'number' || limit === undefined) return [];
      const where = position === undefined ? '' : ` (${position})`;
      const line = `- ${title}${where}: ${measured.value} ${margin.unit} (${limit})`;
      return [{ line, share: margin.value / Math.max(Math.abs(measured.value), 1e-9) }];
    })
    .toSorted((a, b) => a.share - b.share)
    .slice(0, MOST_WORN);
  return worn.length === 0 ? undefined : { wear: worn.map(({ line }) => line).join('\n') };
}

/** Items whose values go down with every session. */
const WEARS = /^(?:pad\.|rotor\.|lining\.|drum\.|tyre\.tread)/;

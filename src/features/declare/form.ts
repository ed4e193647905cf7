import type { Deps } from '../../deps.ts';
import {
  CATALOGUE,
  FRESH_ITEMS,
  itemApplies,
  LASTING_ITEMS,
  PERSONAL_ITEMS,
  positionsFor,
} from '../../domain/catalogue/catalogue.ts';
import { type Item, POSITION_KEYS } from '../../domain/catalogue/item.ts';
import { cautionIn } from '../../domain/cautions.ts';
import { concessionsInForce } from '../../domain/clearance/concession.ts';
import { isBasisName, lowestOf } from '../../domain/declaration/basis.ts';
import { type Answers, parseAnswers, parseCellKey } from '../../domain/declaration/declaration.ts';
import { isJsonObject } from '../../domain/declaration/read-answer.ts';
import { isSaidNotNew, newItemOf } from '../../domain/foresight/entry-doubts.ts';
import { type AskedCell, stillOpen } from '../../domain/rules/judge/asked.ts';
import { type Finding, tallyOf } from '../../domain/rules/model/finding.ts';
import { findingsIn, languagesOf, messageIn } from '../../domain/rules/says/rule-words.ts';
import { placeOfRule, type Says } from '../../domain/rules/says/says.ts';
import { languageOf } from '../../http/frame/headers.ts';
import { manyConcessions, viewInForce } from '../../http/views/clearance-view.ts';
import { viewFindings } from '../../http/views/finding-view.ts';
import { viewSays } from '../../http/views/small-views.ts';
import { notFound } from '../../http/frame/problem.ts';
import { askedOfEntry, doubtsAbout, judgedBy, judgeEntry, sayLimitsOf } from '../../records/judging/judge-entry.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging/judging-context.ts';
import { findSignatures, listPhotos, type NamedPhoto, viewSaid } from '../../records/evidence.ts';
import { getRules } from '../../records/judging/rules.ts';
import type { AskedView, FormItem, FormView } from './form-schema.ts';
import { addressOf, questionsOf } from './questions.ts';
import { type Draft, type EarlierDeclaration, findEarlierDeclaration, getDraft, getEventName } from './store.ts';

/**
 * The form of one entry: what applies to this car, the limits of its run group, what is saved and what is missing.
 *
 * @throws ProblemError `not-found`
 */
export async function getForm(
  deps: Deps,
  entryId: string,
  accepts: Accepts,
): Promise<{ form: FormView; language: string }> {
  const context = await findJudgingContext(deps.db.prisma, entryId);
  if (context === undefined) throw notFound('entry');
  return formOf(deps, context, await getDraft(deps.db.prisma, entryId), accepts);
}

/** Headers that say which language is wanted. */
export type Accepts = { 'accept-language'?: string | undefined };

/** The form of an entry with the answers that somebody has so far. */
export async function formOf(
  deps: Deps,
  context: JudgingContext,
  draft: Draft,
  accepts: Accepts,
): Promise<{ form: FormView; language: string }> {
  const db = deps.db.prisma;
  const { entryId } = context;
  const rules = await getRules(db, context);
  const answers = usable(draft);
  const now = deps.clock.now();
  const input = { answers, stage: 'declaration', now } as const;
  const { findings, verdict } = judgeEntry(rules, context, input);
  const { ruleSet } = rules.compiled;
  const language = languageOf(accepts, languagesOf(ruleSet));
  const says = sayLimitsOf(rules, context, { ...input, language, findings });
  const all = ruleSet.rules;
  const concessions = viewInForce(concessionsInForce(context.concessions, all, now), all);
  const photos = await listPhotos(db, entryId);
  const asked = askedOfEntry(rules, context, { answers, now });
  const open = stillOpen(asked, answers);
  const earlier = await findEarlierDeclaration(db, entryId);
  const items = CATALOGUE.filter((item) => itemApplies(item, context.vehicle));
  const questions = questionsOf(rules, context, language);
  const form: FormView = {
    entryId,
    carNumber: context.carNumber,
    runGroup: context.runGroup,
    event: eventView(await getEventName(db, context.event.eventId), context),
    window: windowView(context, now),
    draftRev: draft.rev,
    questions: addressOf(questions, context.runGroupId),
    items: items.map((item) => formItem(item, { context, draft, asked, open, photos, earlier })),
    asked: viewAsked(asked),
    ...(earlier === undefined ? {} : { earlier: { event: earlier.event, endsOn: earlier.endsOn } }),
    doubts: viewDoubts(context, answers, language),
    verdict,
    tally: tallyOf(findings),
    judgedBy: judgedBy(rules, context, now),
    findings: withoutRules(findingsIn(findings, rules.compiled.ruleSet, language)),
    says: otherThan(questions.says, says, findings),
    said: viewSaid(draft.said, await findSignatures(db, entryId, draft.said)),
    concessions,
    ...manyConcessions(concessions),
    caution: cautionIn('general', language),
  };
  return { form, language };
}

/** Answers that do not go together, in words. */
export function viewDoubts(context: JudgingContext, answers: Answers, language: string): FormView['doubts'] {
  return doubtsAbout(context, answers).map((doubt) => {
    const newItem = newItemOf(doubt);
    return {
      code: doubt.code,
      item: doubt.item,
      places: [...doubt.places],
      says: messageIn(doubt.says, language),
      ...(newItem === undefined ? {} : { newItem }),
      saidNotNew: isSaidNotNew(doubt, answers),
    };
  });
}

/** What is asked, with why where an answer brought it up. */
export function viewAsked(asked: readonly AskedCell[]): AskedView {
  const broughtUp = asked.filter(({ because }) => because.length > 0);
  return {
    cells: asked.map(({ cell }) => cell),
    because: Object.fromEntries(broughtUp.map(({ cell, because }) => [cell, [...because]])),
  };
}

/** Findings without what their rules say of themselves, which all cars of the group share. */
function withoutRules(findings: readonly Finding[]): FormView['findings'] {
  return viewFindings(findings).map((finding) => {
    const { title: _, effect: __, items: ___, basis: ____, message, fix, ...own } = finding;
    if (own.result === 'met') return own;
    // Of what is only missing nobody knows yet what is to be done about it.
    const isOpen = own.result === 'unanswerable' && own.reliability === undefined;
    return isOpen ? { ...own, message } : { ...own, message, fix };
  });
}

/** The sentences that are not those which all cars of the group share. */
function otherThan(
  shared: ReadonlyMap<string, string>,
  says: ReadonlyMap<string, Says>,
  findings: readonly Finding[],
): FormView['says'] {
  return findings.flatMap(({ ruleId, position }) => {
    const said = says.get(placeOfRule(ruleId, position));
    const view = said === undefined ? null : viewSays(said);
    if ((shared.get(ruleId) ?? 'null') === JSON.stringify(view)) return [];
    return [{ ruleId, ...(position === undefined ? {} : { position }), says: view }];
  });
}

function eventView(name: string, { event, venue }: JudgingContext): FormView['event'] {
  return { name, startsOn: event.startsOn, endsOn: event.endsOn, timeZone: venue.timeZone };
}

/** A draft was parsed when it was saved; should the catalogue have changed since, what no longer fits reads as missing. */
export function usable(draft: Pick<Draft, 'answers'>): Answers {
  const parsed = parseAnswers(draft.answers);
  return parsed.ok ? parsed.answers : new Map();
}

export function windowView(context: JudgingContext, now: Date): FormView['window'] {
  const { opensAt, closesAt } = context.event;
  return { opensAt: opensAt.toISOString(), closesAt: closesAt.toISOString(), open: isOpen(context, now) };
}

/** Opening is inclusive, closing exclusive. */
export function isOpen(context: JudgingContext, now: Date): boolean {
  return now >= context.event.opensAt && now < context.event.closesAt;
}

function formItem(
  item: Item,
  known: {
    context: JudgingContext;
    draft: Draft;
    asked: readonly AskedCell[];
    open: readonly AskedCell[];
    photos: readonly NamedPhoto[];
    earlier: EarlierDeclaration | undefined;
  },
): FormItem {
  const positions = positionsFor(item, known.context.vehicle);
  const saved = known.draft.answers[item.key];
  const earlier = earlierOf(item, known.earlier);
  return {
    key: item.key,
    ...(positions === undefined ? {} : { positions: [...positions] }),
    asked: known.asked.some(({ key }) => key === item.key) ? 'required' : 'optional',
    ...(saved === undefined ? {} : { saved }),
    photos: photosOf(item, known.photos),
    ...(earlier === undefined ? {} : { earlier }),
    missing: known.open.filter(({ key }) => key === item.key).map(({ cell }) => cell),
  };
}

function photosOf({ key }: Item, photos: readonly NamedPhoto[]): FormItem['photos'] {
  return photos.flatMap(({ item, ...photo }) => (item === key ? [photo] : []));
}

/** What was answered last time, in the shape of an answer: offered, never taken by itself. */
function earlierOf(item: Item, earlier: EarlierDeclaration | undefined): FormItem['earlier'] {
  if (earlier === undefined || !isOffered(item, earlier)) return undefined;
  const atLine = withMeasured(item, earlier);
  const logged = withLogged(item, atLine, earlier.log);
  const { answer } = logged;
  if (answer === undefined || answer === null || !parseAnswers({ [item.key]: answer }).ok) return undefined;
  const { loggedAt, renewed } = logged;
  return {
    answer,
    lasting: LASTING_ITEMS.has(item.key),
    ...(loggedAt !== undefined && { loggedAt }),
    ...(renewed.length > 0 && { renewed }),
  };
}

/** What was written down between sessions is newer than what was declared, and it says what was new then. */
function withLogged(
  item: Item,
  declared: unknown,
  log: EarlierDeclaration['log'],
): { answer: unknown; loggedAt?: string; renewed: string[] } {
  let answer = declared;
  let loggedAt: string | undefined;
  const renewed = new Set<string>();
  for (const { at, cells, renewed: places } of log) {
    const own = Object.entries(cells ?? {}).filter(([cell]) => cell.split('@')[0] === item.key && !isBasisName(cell));
    for (const [cell, value] of own) {
      const { position } = parseCellKey(cell);
      if (position !== undefined) answer = withPlace(answer, position, atPlace(item, position, value));
      loggedAt = at;
    }
    if (own.length > 0) for (const place of places ?? []) renewed.add(place);
  }
  return { answer, ...(loggedAt !== undefined && { loggedAt }), renewed: [...renewed] };
}

/** The lowest of a part says that it is that. */
function atPlace(item: Item, position: string, value: unknown): unknown {
  const lowest = lowestOf(item);
  const isOwn = item.positions !== undefined && (POSITION_KEYS[item.positions] as readonly string[]).includes(position);
  return lowest === undefined || isOwn ? value : { basis: lowest.basis, value };
}

/** A confirmation is given anew each time; what is about the person is for that person. */
function isOffered(item: Item, earlier: EarlierDeclaration): boolean {
  if (item.answer.kind === 'confirm' || FRESH_ITEMS.has(item.key) || item.answeredBy === 'inspector') return false;
  return earlier.samePerson || !PERSONAL_ITEMS.has(item.key);
}

/** An answer with another value at one place; what was said once of each place has it as an exception. */
function withPlace(answer: unknown, position: string, value: unknown): unknown {
  if (!isJsonObject(answer)) return { [position]: value };
  if (!Object.hasOwn(answer, 'basis')) return { ...answer, [position]: value };
  const { except } = answer as { except?: unknown };
  return { ...answer, except: { ...(isJsonObject(except) ? except : {}), [position]: value } };
}

/** What the line measured stands for what was declared. */
function withMeasured(item: Item, { answers, checks }: EarlierDeclaration): unknown {
  let answer: unknown = answers[item.key];
  for (const check of checks ?? []) {
    if (check.item !== item.key || check.value === undefined) continue;
    if (item.positions === undefined) answer = check.value;
    else if (check.position !== undefined) answer = withPlace(answer, check.position, check.value);
  }
  return answer;
}

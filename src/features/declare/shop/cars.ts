import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { plainDateAt } from '../../../domain/calendar.ts';
import { AREAS } from '../../../domain/catalogue/item.ts';
import { type Answers, parseCellKey } from '../../../domain/declaration/declaration.ts';
import { placeOfName } from '../../../domain/declaration/no-answer.ts';
import { placesChanged, stillSaid } from '../../../domain/declaration/basis.ts';
import { stillOpen } from '../../../domain/rules/judge/asked.ts';
import { orderBy, type WorkOrder, workOrder } from '../../../domain/prepare/work-order.ts';
import { assertIfMatch, etagOf, stale } from '../../../http/frame/headers.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { canonicalHash } from '../../../platform/canonical-json.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { recordEntryHistory } from '../../../records/history/history.ts';
import { askedOfEntry, judgeEntry, readAnswers } from '../../../records/judging/judge-entry.ts';
import { findJudgingContext, type JudgingContext } from '../../../records/judging/judging-context.ts';
import { getRules, type JudgingRules } from '../../../records/judging/rules.ts';
import { lockEntryForChange } from '../../../records/locks/entry-lock.ts';
import { notifyEntrant } from '../../../records/notify-entrant.ts';
import { findSignatures, viewSaid } from '../../../records/evidence.ts';
import type { FormView } from '../form-schema.ts';
import { type Accepts, formOf, usable } from '../form.ts';
import { judgeDraft, wordsIn } from '../save-draft.ts';
import type { DraftView } from '../schemas.ts';
import { draftOfPart, formOfPart, isOfPart, ownAnswers, type Raw, rulesOfPart, withAnswers } from './part.ts';
import type { ShopCar, SignedAnswers } from './schemas.ts';
import { getShopName, insertSignature, listCars, lockDraft, saveAnswers, type StoredCar, writeDraft } from './store.ts';

/** A car with all that judges it. */
interface Loaded {
  car: StoredCar;
  context: JudgingContext;
  rules: JudgingRules;
  now: Date;
}

async function load(db: Tx, car: StoredCar, now: Date): Promise<Loaded> {
  const context = await findJudgingContext(db, car.entryId);
  if (context === undefined) throw new Error('a link has an entry');
  return { car, context, rules: await getRules(db, context), now };
}

/**
 * A car of the shop; another's looks like none, and so does one that was taken back or whose event is long over.
 *
 * @throws ProblemError `not-found`
 */
async function getCar(db: Tx, at: { shopId: string; shopLinkId: string; now: Date }): Promise<StoredCar> {
  const [car] = await listCars(db, at);
  if (car === undefined) throw notFound('car');
  return car;
}

const merged = ({ answers, draft }: Pick<StoredCar, 'answers' | 'draft'>): Record<string, unknown> =>
  withAnswers(draft ?? {}, answers);

/** All cars of a shop, across events, with what comes next for each. */
export async function listShopCars(deps: Deps, shopId: string, accepts: Accepts): Promise<{ cars: ShopCar[] }> {
  const db = deps.db.prisma;
  const now = deps.clock.now();
  const cars: ShopCar[] = [];
  for (const car of await listCars(db, { shopId, now })) cars.push(viewCar(await load(db, car, now), accepts).view);
  return { cars };
}

function viewCar(loaded: Loaded, accepts: Accepts): { view: ShopCar; order: WorkOrder } {
  const { car, context, rules, now } = loaded;
  const answers = usable({ answers: merged(car) });
  const order = orderOf(loaded, answers, accepts);
  const asked = askedOfEntry(rules, context, { answers, now }).filter(({ key }) => isOfPart(car.areas, key));
  const count = (counts: 'bar' | 'inspect'): number => order.lines.filter((line) => line.counts === counts).length;
  const { event, venue } = context;
  const counted = {
    asked: asked.length,
    given: asked.length - stillOpen(asked, answers).length,
    bars: count('bar'),
    looks: count('inspect'),
    unsigned: Object.keys(car.answers).length,
  };
  const view: ShopCar = {
    shopLinkId: car.shopLinkId,
    carNumber: context.carNumber,
    description: context.vehicle.description,
    ...(car.colour === null ? {} : { colour: car.colour }),
    owner: car.owner,
    runGroup: context.runGroup,
    event: { name: car.event, startsOn: event.startsOn, endsOn: event.endsOn, timeZone: venue.timeZone },
    areas: AREAS.filter((area) => car.areas.includes(area)),
    state: car.facts.withdrawn ? 'withdrawn' : nextOf(counted),
    ...counted,
    ...(car.signedName === null || car.signedAt === null
      ? {}
      : { signed: { name: car.signedName, signedAt: car.signedAt.toISOString() } }),
    ...(car.facts.declared === undefined ? {} : { declaredRevision: car.facts.declared.revision }),
    orderBy: orderBy(event.startsOn, plainDateAt(now, venue.timeZone)),
    declareBy: event.closesAt.toISOString(),
    firstSessionAt: context.firstSessionAt.toISOString(),
    parts: order.parts,
  };
  return { view, order };
}

type Counted = Pick<ShopCar, 'asked' | 'given' | 'bars' | 'unsigned'>;

function nextOf({ asked, given, bars, unsigned }: Counted): ShopCar['state'] {
  if (bars > 0) return 'to-mend';
  if (given < asked) return 'to-answer';
  return unsigned > 0 ? 'to-sign' : 'done';
}

function orderOf({ car, context, rules, now }: Loaded, answers: Answers, accepts: Accepts): WorkOrder {
  const { findings } = judgeEntry(rules, context, { answers, stage: 'declaration', now });
  const ids = rulesOfPart(rules, car.areas);
  const ours = wordsIn(
    findings.filter(({ ruleId }) => ids.has(ruleId)),
    rules,
    accepts,
  );
  return workOrder(ours, context.vehicle, answeredKeys(answers));
}

/** One car with its form, as far as the owner gave it to the shop, and its work order. */
export async function readShopCar(
  deps: Deps,
  { shopId, shopLinkId, accepts }: { shopId: string; shopLinkId: string; accepts: Accepts },
): Promise<{ car: ShopCar; form: FormView; order: WorkOrder; language: string }> {
  const db = deps.db.prisma;
  const now = deps.clock.now();
  const car = await getCar(db, { shopId, shopLinkId, now });
  const loaded = await load(db, car, now);
  const draft = { answers: merged(car), said: car.said ?? {}, rev: car.rev };
  const { form, language } = await formOf(deps, loaded.context, draft, accepts);
  const { view, order } = viewCar(loaded, accepts);
  return { car: view, form: formOfPart(form, loaded.rules, car.areas), order, language };
}

/** Catalogue keys with an answer at some place; that there is none is no answer. */
function answeredKeys(answers: Answers): ReadonlySet<string> {
  return new Set(
    [...answers.keys()].filter((name) => !placeOfName(name).isNoAnswer).map((name) => parseCellKey(name).key),
  );
}

interface Saving {
  shopId: string;
  shopLinkId: string;
  ifMatch: string | undefined;
  answers: Raw;
  accepts: Accepts;
}

/**
 * Keeps what the shop has answered and says what the rules make of it. The owner's declaration stays as it is until the
 * shop has signed.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `answers-not-acceptable`
 */
export async function saveShopAnswers(deps: Deps, saving: Saving): Promise<DraftView> {
  const { shopId, shopLinkId, accepts } = saving;
  const db = deps.db.prisma;
  const now = deps.clock.now();
  const car = await getCar(db, { shopId, shopLinkId, now });
  assertIfMatch(saving.ifMatch, etagOf(car.rev));
  assertOfPart(car, saving.answers);
  readAnswers(saving.answers, '/answers');
  const own = ownAnswers(saving.answers, car.draft ?? {});
  const answers = readAnswers(merged({ ...car, answers: own }), '/answers');
  if (!(await saveAnswers(db, { shopLinkId, rev: car.rev, answers: own }))) {
    throw stale(etagOf((await getCar(db, { shopId, shopLinkId, now })).rev));
  }
  const { rules, context } = await load(db, car, now);
  const saved = usable({ answers: merged(car) });
  const { told, found } = judgeDraft(rules, context, { answers, before: saved, now, accepts });
  const { findings } = found.judged.judgement;
  const said = stillSaid(car.said ?? {}, usable({ answers: car.draft ?? {} }), answers);
  return {
    entryId: car.entryId,
    draftRev: car.rev + 1,
    ...draftOfPart(told, { rules, areas: car.areas, all: findings }),
    said: viewSaid(said, await findSignatures(db, car.entryId, said)).map((one) => ({
      ...one,
      places: one.places.filter((place) => isOfPart(car.areas, place.split('@')[0] ?? place)),
    })),
  };
}

/** @throws ProblemError `answers-not-acceptable` naming what the owner did not give the shop */
function assertOfPart({ areas }: StoredCar, answers: Raw): void {
  const others = Object.keys(answers).filter((key) => !isOfPart(areas, key));
  if (others.length === 0) return;
  const detail = 'The owner answers this, or did not give it to you.';
  const errors = others.slice(0, 100).map((key) => ({
    pointer: `/answers/${key.replaceAll('~', '~0').replaceAll('/', '~1')}`,
    code: 'not-yours',
    detail,
    in: 'body' as const,
  }));
  throw new ProblemError('answers-not-acceptable', `${others[0]}: ${detail}`, { errors });
}

interface Signing {
  shopId: string;
  shopLinkId: string;
  ifMatch: string | undefined;
  name: string;
  requestId: string;
}

/**
 * Signs what the shop has answered: from now on it stands in the owner's draft, said by whoever signed. Submitting it stays
 * with the owner.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `state-moved-on` (withdrawn),
 *   `not-acceptable` (nothing to sign)
 */
export async function signShopAnswers(
  deps: Deps,
  actor: Actor,
  signing: Signing,
): Promise<{ signed: SignedAnswers; rev: number }> {
  const { shopId, shopLinkId, name, requestId } = signing;
  return inTransaction(deps.db.prisma, async (tx) => {
    const { entryId } = await getCar(tx, { shopId, shopLinkId, now: deps.clock.now() });
    const entry = await lockEntryForChange(tx, entryId);
    const isThere = await lockDraft(tx, entryId);
    const at = await decisionTime(tx, deps.clock);
    const car = await getCar(tx, { shopId, shopLinkId, now: at });
    assertIfMatch(signing.ifMatch, etagOf(car.rev));
    const signatureId = uuidV7();
    const { answers, said, places } = withSignature(car, signatureId);
    const shop = await getShopName(tx, shopId);
    const by = actor.tokenId;
    await insertSignature(tx, { signatureId, car, shop, name, by, at, answers: car.answers });
    await writeDraft(tx, { entryId, isThere, answers, said, by, at });
    if (!(await saveAnswers(tx, { shopLinkId, rev: car.rev, answers: {} }))) throw stale(etagOf(car.rev + 1));
    // The hash says later what was signed, and the name stands where it can be erased.
    const data = { shopLinkId, signatureId, places, answersHash: canonicalHash(car.answers) };
    await recordEntryHistory(tx, entry, { actor, at, action: 'shop.signed', data, requestId });
    await notifyEntrant(tx, { entryId, kind: 'shop.signed', id: signatureId, requestId });
    return { signed: { signatureId, shop, name, signedAt: at.toISOString(), places }, rev: car.rev + 1 };
  });
}

/** The owner's draft with what the shop signs in it. */
function withSignature(car: StoredCar, signatureId: string) {
  const answers = merged(car);
  const before = usable({ answers: car.draft ?? {} });
  const after = readAnswers(answers, '/answers');
  const places = placesChanged(before, after);
  if (places.length === 0) {
    const detail = 'There is nothing that you have answered and not signed yet.';
    throw new ProblemError('not-acceptable', detail, {
      errors: [{ pointer: '', code: 'nothing-to-sign', detail, in: 'body' }],
    });
  }
  const ours = Object.fromEntries(places.map((place) => [place, signatureId]));
  return { answers, places, said: { ...stillSaid(car.said ?? {}, before, after), ...ours } };
}

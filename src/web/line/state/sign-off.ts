import { v4 as newId } from 'uuid';
import { signal } from '@preact/signals';
import { ApiProblem, call } from '../../api/call.ts';
import { renewClaim, signOff, type SignOffInput, type SignOffView } from '../../api/operations.ts';
import { keepUnsent, listUnsent, sendUnsent, type Settled, type Unsent } from '../../shared/outbox.ts';
import { text } from '../text.ts';
import { markEnded } from './claims.ts';
import { changeWorksheet, passSticker, QUEUE, say, type Station, withSticker, worksheetOf } from './station.ts';
import { cellOf, type Decision, isLookedAt, isTyped, type Point, type Rejection, type Worksheet } from './worksheet.ts';
import { readLine } from './feed.ts';
import { dueAt, endOf, rejectionOf } from './rejection.ts';
import { buildChecks, type Items } from './points.ts';

interface News {
  sent: number;
  refused?: string;
}

/** Photos of this session that the server has, and what it said of one that it refused, by claim and place. */
export const photoNews = signal<Readonly<Record<string, News>>>({});

export const newsKey = (claimId: string, cell: string): string => `${claimId} ${cell}`;

/** A photo was answered. */
function photoSettled({ about }: Unsent, answer: Settled): 'done' {
  const before = photoNews.value[about] ?? { sent: 0 };
  const news = answer.ok ? { sent: before.sent + 1 } : { ...before, refused: answer.problem.message };
  photoNews.value = { ...photoNews.value, [about]: news };
  return 'done';
}

const { t } = text;
/** Between two tries to send what waits. */
const RETRY_MS = 4000;

/** What of a claim waits to be sent: its sign-off. */
export const unsentSignOff = (station: Station, claimId: string): Unsent | undefined =>
  station.unsent.value.find((item) => item.about === claimId && item.operation.path === signOff.path);

/**
 * Decides on a car. The decision is on the disk before it is sent, under a key of its own; nothing is accepted before
 * the server has answered.
 */
export async function decide(station: Station, claimId: string, decision: Decision): Promise<void> {
  const found = worksheetOf(station, claimId);
  if (found === undefined || unsentSignOff(station, claimId) !== undefined) return;
  const worksheet = decision === 'refuse' ? found : withSticker(found, station.roll.value);
  const key = newId();
  const body = signOffBody(worksheet, decision, station.items.value);
  const { sticker } = worksheet;
  await changeWorksheet(station, claimId, (one) => ({
    ...one,
    sticker,
    decision,
    refusal: undefined,
    ended: undefined,
  }));
  // It is on the car from here on, whether or not there is a network.
  if (decision !== 'refuse') passSticker(station, sticker.trim());
  await keepUnsent({
    key,
    queue: QUEUE,
    about: claimId,
    operation: { method: signOff.method, path: signOff.path },
    input: { params: { claimId }, headers: { 'idempotency-key': key }, body },
  });
  await sendAll(station);
}

/** Sends what waits, now. */
export async function sendAll(station: Station): Promise<void> {
  const refresh = async () => {
    station.unsent.value = await listUnsent(QUEUE);
  };
  await refresh();
  if (station.unsent.value.length === 0) return;
  await sendUnsent(QUEUE, { token: station.session.token, settled: (item, answer) => settle(station, item, answer) });
  await refresh();
}

/** Tries again and again while something waits, until the signal. */
export function keepSending(station: Station, signal: AbortSignal): void {
  const round = () => {
    if (signal.aborted) return;
    void sendAll(station).finally(() => setTimeout(round, RETRY_MS));
  };
  addEventListener('online', () => void sendAll(station), { signal });
  round();
}

async function settle(station: Station, item: Unsent, answer: Settled): Promise<'done' | 'again'> {
  if (!answer.ok && answer.problem.status === 401) {
    station.locked.value = true;
    return 'again';
  }
  if (item.operation.path !== signOff.path) return photoSettled(item, answer);
  if (answer.ok) {
    const outcome = answer.reply.body as SignOffView;
    await changeWorksheet(station, item.about, (worksheet) => ({
      ...worksheet,
      outcome,
      refusal: undefined,
      ended: undefined,
    }));
    say(t('mine.outcome', { decision: t(`decided.${outcome.decision}`) }), 'urgent');
    void readLine(station);
    return 'done';
  }
  return refused(station, item.about, answer.problem);
}

async function refused(station: Station, claimId: string, { problem }: ApiProblem): Promise<'done' | 'again'> {
  const ended = endOf(problem);
  // A lease that ran out while there was no network: the car is still ours when nobody else took it.
  if (ended?.state === 'expired' && ended.by === undefined && (await renewed(station, claimId))) return 'again';
  if (ended !== undefined) await markEnded(station, claimId, ended);
  else await changeWorksheet(station, claimId, (worksheet) => withRejection(station, worksheet, rejectionOf(problem)));
  void readLine(station);
  return 'done';
}

/** A number that is on another car makes room for the next one of the roll. */
function withRejection(station: Station, worksheet: Worksheet, refusal: Rejection): Worksheet {
  if (refusal.code !== 'sticker-taken' || station.roll.value === undefined) return { ...worksheet, refusal };
  passSticker(station, worksheet.sticker.trim());
  return { ...worksheet, refusal, sticker: '', ownSticker: undefined };
}

async function renewed(station: Station, claimId: string): Promise<boolean> {
  try {
    const { body } = await call(renewClaim, { params: { claimId } }, { token: station.session.token });
    await changeWorksheet(station, claimId, (worksheet) => ({ ...worksheet, expiresAt: body.expiresAt }));
    return true;
  } catch (error) {
    if (error instanceof ApiProblem) return false;
    // No answer: whether the claim is over is not known, so the sign-off stays.
    return true;
  }
}

/** The sign-off as it is sent. The caller knows that nothing that must be there is missing. */
export function signOffBody(worksheet: Worksheet, decision: Decision, items: Items): SignOffInput {
  const { checks } = buildChecks(worksheet, items);
  const note = worksheet.note.trim();
  const withNote = note === '' ? {} : { note };
  if (decision === 'refuse') return { decision, checks, ...withNote };
  const accepted = { decision, checks, stickerNumber: worksheet.sticker.trim(), ...withNote };
  if (decision === 'accept') return accepted;
  const conditions = worksheet.conditions.map((condition) => {
    const due = dueAt(condition, worksheet.firstSessionAt);
    const words = condition.text.trim();
    const { kind } = condition;
    // In other words than the usual ones it may be about something else.
    const told = kind !== undefined && words === t(`condition.${kind}`) ? { kind, dueAt: due ?? null } : {};
    return { text: words, ...(due === undefined ? {} : { dueAt: due }), ...told };
  });
  return { ...accepted, conditions };
}

interface Counts {
  ok: number;
  notOk: number;
  measured: number;
  notSeen: number;
}

/** How much was looked at. A place that was measured and marked counts in both. */
export function countsOf({ claim, places }: Worksheet): Counts {
  const entries = claim.pointsToCheck.map((point) => places[cellOf(point)]);
  return {
    ok: entries.filter((entry) => entry?.mark === 'ok').length,
    notOk: entries.filter((entry) => entry?.mark === 'not-ok').length,
    measured: entries.filter(isTyped).length,
    notSeen: entries.filter((entry) => !isLookedAt(entry)).length,
  };
}

interface Words {
  place(point: Point): string;
  mark(mark: 'ok' | 'not-ok'): string;
  sticker(number: string): string;
  condition(text: string): string;
  note(text: string): string;
}

/** All that was entered for a car, a line each, to be copied or read out when the server cannot take it any more. */
export function summaryText(worksheet: Worksheet, items: Items, words: Words): string {
  const { checks, cells } = buildChecks(worksheet, items);
  const points = new Map(worksheet.claim.pointsToCheck.map((point) => [cellOf(point), point]));
  const lines = checks.map(({ value, result, note }, index) => {
    const point = points.get(cells[index] ?? '');
    const said = result === undefined ? valueWords(value) : words.mark(result);
    const place = point === undefined ? '' : words.place(point);
    return `${place}: ${said}${note === undefined ? '' : ` (${note})`}`;
  });
  return [
    `${worksheet.claim.carNumber}, ${worksheet.claim.runGroup}, ${worksheet.claim.vehicle}`,
    ...lines,
    ...worksheet.conditions.map((condition) => words.condition(condition.text)),
    ...(worksheet.sticker === '' ? [] : [words.sticker(worksheet.sticker)]),
    ...(worksheet.note === '' ? [] : [words.note(worksheet.note)]),
  ].join('\n');
}

/** A measurement, an answer, or the parts of one. */
function valueWords(value: unknown): string {
  if (typeof value !== 'object' || value === null) return String(value);
  const parts = new Map<string, unknown>(Object.entries(value));
  if (parts.has('unit')) return `${String(parts.get('value'))} ${String(parts.get('unit'))}`;
  return [...parts].map(([name, one]) => `${name} ${valueWords(one)}`).join(', ');
}

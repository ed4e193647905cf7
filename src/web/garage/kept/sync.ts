import { batch } from '@preact/signals';
import { ApiProblem, call, isTransient } from '../../api/call.ts';
import {
  type DraftView,
  type FormView as OwnForm,
  getEntry,
  getForm,
  getInspection,
  getQuestions,
  type InspectionView,
  listInspections,
  type QuestionsView,
  saveDeclaration,
} from '../../api/operations.ts';
import { oneAtATime } from '../../shared/outbox.ts';
import { cellAtPointer, sameLeaf } from './cells.ts';
import { type Declaration, type Fault, keep, keepAnswer, sendable, takeForm } from './declaration.ts';
import { findingsAfter, type FormView, joinForm } from './form.ts';
import { changedCells, listWaitingPhotos, readKnown, readTyping } from './keep.ts';

const DEBOUNCE_MS = 600;
const FIRST_RETRY_MS = 2000;
const LONGEST_RETRY_MS = 30_000;
const LOOK_AGAIN_MS = 60_000;

export interface Sync {
  /** something was typed: to be sent soon */
  typed(): void;
  /** sends and reads at once, for example when the network is back */
  now(): Promise<void>;
  stop(): void;
}

/** How answers are read from the server and saved there: by their entrant, or by somebody whom he gave a part of them. */
export interface Way {
  pull(declaration: Declaration): Promise<void>;
  save(declaration: Declaration, answers: Record<string, unknown>): Promise<DraftView>;
}

/** What else goes to the server with the answers, in this order. */
export type Errand = () => Promise<void>;

/** Keeps the server in step with a declaration. One request at a time; what was typed meanwhile goes with the next. */
export function startSync(declaration: Declaration, errands: readonly Errand[], way: Way = ENTRANTS): Sync {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let retryMs = FIRST_RETRY_MS;
  // What the server has may have changed: at the start, after a time without a network, when somebody looks again.
  let mustPull = true;

  const schedule = (ms: number): void => {
    clearTimeout(timer);
    timer = setTimeout(() => void run(), ms);
  };
  const settle = (error: unknown): void => {
    if (isTransient(error)) {
      declaration.sync.value = { kind: 'offline' };
      mustPull = true;
      const wait = error instanceof ApiProblem ? (error.retryAfter ?? 0) * 1000 : 0;
      schedule(Math.max(wait, retryMs));
      retryMs = Math.min(retryMs * 2, LONGEST_RETRY_MS);
    } else if (error instanceof ApiProblem && error.status === 401) {
      declaration.sync.value = { kind: 'ended' };
    } else {
      declaration.sync.value = { kind: 'failed', why: error instanceof Error ? error.message : String(error) };
    }
  };
  const once = async (): Promise<void> => {
    try {
      if (mustPull) await way.pull(declaration);
      mustPull = false;
      await push(declaration, way);
      for (const errand of errands) await errand();
      retryMs = FIRST_RETRY_MS;
      stateOf(declaration);
    } catch (error) {
      settle(error);
    }
  };
  const run = oneAtATime(once, () => schedule(0));
  const sleep = onWake(() => {
    mustPull = true;
    void run();
  });
  return {
    typed: () => {
      if (declaration.sync.value.kind === 'saved') declaration.sync.value = { kind: 'waiting' };
      // Without a network the next try is on its way already.
      if (declaration.sync.value.kind !== 'offline') schedule(DEBOUNCE_MS);
    },
    now: run,
    stop: () => {
      clearTimeout(timer);
      sleep();
    },
  };
}

/** Calls when the network is back, when somebody looks again, and now and then while he looks. @returns what ends it */
function onWake(act: () => void): () => void {
  const wake = (): void => {
    if (document.visibilityState === 'visible') act();
  };
  const timer = setInterval(wake, LOOK_AGAIN_MS);
  globalThis.addEventListener('online', wake);
  document.addEventListener('visibilitychange', wake);
  return () => {
    clearInterval(timer);
    globalThis.removeEventListener('online', wake);
    document.removeEventListener('visibilitychange', wake);
  };
}

function stateOf(declaration: Declaration): void {
  if (declaration.conflicts.value.length > 0) declaration.sync.value = { kind: 'conflict' };
  else declaration.sync.value = { kind: declaration.unsent.value.length === 0 ? 'saved' : 'waiting' };
}

/** What this device kept from before: typed answers, and the form as it was. */
export async function openKept(declaration: Declaration): Promise<void> {
  const [typing, known, photos] = await Promise.all([
    readTyping(declaration.keptAs),
    readKnown(declaration.keptAs),
    listWaitingPhotos(declaration.keptAs),
  ]);
  batch(() => {
    if (typing !== undefined) {
      declaration.base.value = typing.base;
      declaration.cells.value = typing.cells;
      declaration.unread.value = typing.unread;
      declaration.pending.value = typing.pending;
    }
    if (known !== undefined) {
      // Kept by an earlier version of the page: it is not known what is asked until the server says so.
      const asked = (known.form as Partial<FormView>).asked ?? { cells: [], because: {} };
      declaration.form.value = { ...known.form, asked };
      declaration.entry.value = known.entry;
      declaration.inspection.value = known.inspection;
      declaration.findings.value = known.form.findings;
      if (!declaration.isTyped) declaration.verdict.value = known.form.verdict;
    }
    declaration.waitingPhotos.value = photos;
  });
}

/** The questions that were read last: whoever looks again reads only what is about the car. */
let last: { hash: string; questions: QuestionsView } | undefined;

/** Brings a form together with the questions of its run group. */
export async function withQuestions(own: OwnForm, token: string): Promise<FormView> {
  const { runGroupId, hash } = own.questions;
  if (last?.hash !== hash) {
    const params = { runGroupId, name: hash };
    last = { hash, questions: (await call(getQuestions, { params }, { token, mayBeKept: true })).body };
  }
  return joinForm(own, last.questions);
}

/** Reads form, entry and newest revision. */
export async function pull(declaration: Declaration): Promise<void> {
  const { token } = declaration.session;
  const params = { entryId: declaration.entryId };
  const [form, entry, revisions] = await Promise.all([
    call(getForm, { params }, { token }).then(({ body }) => withQuestions(body, token)),
    call(getEntry, { params }, { token }),
    call(listInspections, { params }, { token }),
  ]);
  const newest = revisions.body.inspections[0];
  const inspection = newest === undefined ? undefined : await withAllFindings(declaration, newest);
  declaration.entry.value = entry.body;
  declaration.inspection.value = inspection;
  takeForm(declaration, form);
}

/** A revision with what is met too, for the sheet that goes to the line: read once, as it never changes. */
async function withAllFindings(declaration: Declaration, newest: InspectionView): Promise<InspectionView> {
  const { inspectionId, tally } = newest;
  const known = declaration.inspection.value;
  if (known?.inspectionId === inspectionId && known.findings.length === tally.all) {
    return { ...newest, findings: known.findings };
  }
  const input = { params: { inspectionId }, query: { findings: 'all' as const } };
  return (await call(getInspection, input, { token: declaration.session.token })).body;
}

/** Saves the draft over the version that this device knows. */
async function saveDraft(declaration: Declaration, answers: Record<string, unknown>): Promise<DraftView> {
  const params = { entryId: declaration.entryId };
  const headers = { 'if-match': `"${declaration.base.value.rev}"` };
  const { token } = declaration.session;
  return (await call(saveDeclaration, { params, headers, body: { answers } }, { token })).body;
}

const ENTRANTS: Way = { pull, save: saveDraft };

/** Sends what is not with the server, until all that can be sent is; a draft is its entrant's. */
async function push(declaration: Declaration, way: Way): Promise<void> {
  if (declaration.isTyped) return;
  for (let round = 0; round < 4; round += 1) {
    if (declaration.conflicts.value.length > 0) return;
    const { answers, sent } = sendable(declaration);
    if (changedCells(declaration.base.value.cells, sent).length === 0) return;
    declaration.sync.value = { kind: 'saving' };
    if (await save(declaration, way, { answers, sent })) return;
  }
}

/** @returns whether it was saved; if not, the reason is noted and another try may do better */
async function save(
  declaration: Declaration,
  way: Way,
  { answers, sent }: { answers: Record<string, unknown>; sent: Declaration['cells']['value'] },
): Promise<boolean> {
  try {
    const saved = await way.save(declaration, answers);
    declaration.base.value = { rev: saved.draftRev, cells: sent };
    keep(declaration);
    await takeSaved(declaration, way, saved);
    return true;
  } catch (error) {
    if (!(error instanceof ApiProblem)) throw error;
    if (error.status === 412) await way.pull(declaration);
    else if (error.status === 422 && noteFaults(declaration, error, sent)) return false;
    else throw error;
    return false;
  }
}

/** Takes what the rules say of the draft that was just saved. */
async function takeSaved(declaration: Declaration, way: Way, saved: DraftView): Promise<void> {
  const form = declaration.form.value;
  // More than the answers has changed since the form was read: what differs from the draft before says too little.
  if (form === undefined || form.judgedBy !== saved.judgedBy) return way.pull(declaration);
  const findings = findingsAfter(form, saved);
  const { verdict, tally, asked, said, doubts } = saved;
  const before = new Set(form.asked.cells);
  const more = asked.cells.filter((cell) => !before.has(cell));
  batch(() => {
    if (more.length > 0) declaration.broughtUp.value = more;
    declaration.findings.value = findings;
    declaration.verdict.value = verdict;
    // What is kept for the time without a network has the newest findings and questions too.
    declaration.form.value = { ...form, findings, verdict, tally, asked, said, doubts };
  });
  keepAnswer(declaration);
}

/** @returns whether at least one fault belongs to a field, so that the rest can be sent without it */
export function noteFaults(
  declaration: Declaration,
  { problem }: ApiProblem,
  sent: Declaration['cells']['value'],
): boolean {
  const found: Record<string, Fault> = {};
  for (const { pointer, code, detail } of problem.errors ?? []) {
    const cell = cellAtPointer(declaration.items.value, pointer);
    // An answer that was changed since it was sent is judged anew.
    if (cell !== undefined && sameLeaf(declaration.cells.value[cell], sent[cell])) found[cell] = { code, detail };
  }
  declaration.faults.value = { ...declaration.faults.value, ...found };
  return Object.keys(found).length > 0;
}

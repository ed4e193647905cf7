import { batch } from '@preact/signals';
import { ApiProblem, call, isTransient } from '../../api/call.ts';
import { getEntry, getForm, listInspections, saveDeclaration } from '../../api/operations.ts';
import { cellAtPointer, sameLeaf } from './cells.ts';
import { type Desk, type Fault, keep, keepAnswer, sendable, takeForm } from './desk.ts';
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

/** What else goes to the server with the answers, in this order. */
export type Errand = () => Promise<void>;

/** Keeps the server in step with a desk. One request at a time; what was typed meanwhile goes with the next. */
export function startSync(desk: Desk, errands: readonly Errand[]): Sync {
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
      desk.sync.value = { kind: 'offline' };
      mustPull = true;
      const wait = error instanceof ApiProblem ? (error.retryAfter ?? 0) * 1000 : 0;
      schedule(Math.max(wait, retryMs));
      retryMs = Math.min(retryMs * 2, LONGEST_RETRY_MS);
    } else if (error instanceof ApiProblem && error.status === 401) {
      desk.sync.value = { kind: 'ended' };
    } else {
      desk.sync.value = { kind: 'failed', why: error instanceof Error ? error.message : String(error) };
    }
  };
  const once = async (): Promise<void> => {
    try {
      if (mustPull) await pull(desk);
      mustPull = false;
      await push(desk);
      for (const errand of errands) await errand();
      retryMs = FIRST_RETRY_MS;
      stateOf(desk);
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
      if (desk.sync.value.kind === 'saved') desk.sync.value = { kind: 'waiting' };
      // Without a network the next try is on its way already.
      if (desk.sync.value.kind !== 'offline') schedule(DEBOUNCE_MS);
    },
    now: run,
    stop: () => {
      clearTimeout(timer);
      sleep();
    },
  };
}

/** Runs one at a time; who asks meanwhile gets the one that runs, and another one is ordered for after it. */
function oneAtATime(act: () => Promise<void>, order: () => void): () => Promise<void> {
  let running: Promise<void> | undefined;
  let again = false;
  return () => {
    again = running !== undefined;
    running ??= act().finally(() => {
      running = undefined;
      if (again) order();
      again = false;
    });
    return running;
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

function stateOf(desk: Desk): void {
  if (desk.conflicts.value.length > 0) desk.sync.value = { kind: 'conflict' };
  else desk.sync.value = { kind: desk.unsent.value.length === 0 ? 'saved' : 'waiting' };
}

/** What this device kept from before: typed answers, and the form as it was. */
export async function openKept(desk: Desk): Promise<void> {
  const [typing, known, photos] = await Promise.all([
    readTyping(desk.keptAs),
    readKnown(desk.keptAs),
    listWaitingPhotos(desk.keptAs),
  ]);
  batch(() => {
    if (typing !== undefined) {
      desk.base.value = typing.base;
      desk.cells.value = typing.cells;
      desk.unread.value = typing.unread;
      desk.pending.value = typing.pending;
    }
    if (known !== undefined) {
      desk.form.value = known.form;
      desk.entry.value = known.entry;
      desk.inspection.value = known.inspection;
      desk.findings.value = known.form.findings;
      if (!desk.isTyped) desk.verdict.value = known.form.verdict;
    }
    desk.waitingPhotos.value = photos;
  });
}

/** Reads form, entry and newest revision. */
export async function pull(desk: Desk): Promise<void> {
  const { token } = desk.session;
  const params = { entryId: desk.entryId };
  const [form, entry, revisions] = await Promise.all([
    call(getForm, { params }, { token }),
    call(getEntry, { params }, { token }),
    call(listInspections, { params }, { token }),
  ]);
  desk.entry.value = entry.body;
  desk.inspection.value = revisions.body.inspections[0];
  takeForm(desk, form.body);
}

/** Sends what is not with the server, until all that can be sent is; a draft is its entrant's. */
async function push(desk: Desk): Promise<void> {
  if (desk.isTyped) return;
  for (let round = 0; round < 4; round += 1) {
    if (desk.conflicts.value.length > 0) return;
    const { answers, sent } = sendable(desk);
    if (changedCells(desk.base.value.cells, sent).length === 0) return;
    desk.sync.value = { kind: 'saving' };
    if (await save(desk, answers, sent)) return;
  }
}

/** @returns whether it was saved; if not, the reason is noted and another try may do better */
async function save(desk: Desk, answers: Record<string, unknown>, sent: Desk['cells']['value']): Promise<boolean> {
  try {
    const { body } = await call(
      saveDeclaration,
      {
        params: { entryId: desk.entryId },
        headers: { 'if-match': `"${desk.base.value.rev}"` },
        body: { answers },
      },
      { token: desk.session.token },
    );
    batch(() => {
      desk.base.value = { rev: body.draftRev, cells: sent };
      desk.findings.value = body.findings;
      desk.verdict.value = body.verdict;
      const { form } = desk;
      // What is kept for the time without a network has the newest findings too.
      if (form.value !== undefined) form.value = { ...form.value, findings: body.findings, verdict: body.verdict };
    });
    keep(desk);
    keepAnswer(desk);
    return true;
  } catch (error) {
    if (!(error instanceof ApiProblem)) throw error;
    if (error.status === 412) await pull(desk);
    else if (error.status === 422 && noteFaults(desk, error, sent)) return false;
    else throw error;
    return false;
  }
}

/** @returns whether at least one fault belongs to a field, so that the rest can be sent without it */
export function noteFaults(desk: Desk, { problem }: ApiProblem, sent: Desk['cells']['value']): boolean {
  const found: Record<string, Fault> = {};
  for (const { pointer, code, detail } of problem.errors ?? []) {
    const cell = cellAtPointer(desk.items.value, pointer);
    // An answer that was changed since it was sent is judged anew.
    if (cell !== undefined && sameLeaf(desk.cells.value[cell], sent[cell])) found[cell] = { code, detail };
  }
  desk.faults.value = { ...desk.faults.value, ...found };
  return Object.keys(found).length > 0;
}

import { batch } from '@preact/signals';
import { v4 as uuid } from 'uuid';
import { ApiProblem, call, isTransient } from '../../api/call.ts';
import { submitInspection } from '../../api/operations.ts';
import { type Desk, keep, sendable } from './desk.ts';
import { noteFaults, pull } from './sync.ts';

/** Puts a submission on its way, with who said it where an inspector typed it: kept on the device with its key, so that it counts once however often it is sent. */
export function orderSubmission(desk: Desk, saidBy?: string): void {
  const { answers } = sendable(desk);
  batch(() => {
    desk.pending.value = { key: uuid(), answers, saidBy, at: new Date().toISOString() };
    desk.submitFault.value = undefined;
  });
  keep(desk);
}

/**
 * Sends the submission that is on its way, if there is one.
 *
 * @returns whether the server took it
 * @throws what is transient: it is to be tried again with the same key
 */
export async function sendSubmission(desk: Desk): Promise<boolean> {
  const pending = desk.pending.value;
  if (pending === undefined) return false;
  try {
    const { body } = await call(
      submitInspection,
      {
        params: { entryId: desk.entryId },
        headers: { 'idempotency-key': pending.key },
        body: { answers: pending.answers, ...(pending.saidBy === undefined ? {} : { saidBy: pending.saidBy }) },
      },
      { token: desk.session.token },
    );
    desk.inspection.value = body;
  } catch (error) {
    if (isTransient(error) || (error instanceof ApiProblem && error.status === 401)) throw error;
    refuse(desk, error);
    return false;
  }
  desk.pending.value = undefined;
  keep(desk);
  // The submission became the draft, and the clearance moved.
  await pull(desk);
  return true;
}

function refuse(desk: Desk, error: unknown): void {
  if (error instanceof ApiProblem && error.status === 422) noteFaults(desk, error, desk.cells.value);
  batch(() => {
    desk.pending.value = undefined;
    desk.submitFault.value = error instanceof Error ? error.message : String(error);
  });
  keep(desk);
}

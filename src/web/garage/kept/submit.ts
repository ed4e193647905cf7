import { batch } from '@preact/signals';
import { v4 as uuid } from 'uuid';
import { ApiProblem, call, isTransient } from '../../api/call.ts';
import { submitInspection } from '../../api/operations.ts';
import { type Declaration, keep, sendable } from './declaration.ts';
import { noteFaults, pull } from './sync.ts';

/** Puts a submission on its way, with who said it where an inspector typed it: kept on the device with its key, so that it counts once however often it is sent. */
export function orderSubmission(declaration: Declaration, saidBy?: string): void {
  const { answers } = sendable(declaration);
  batch(() => {
    declaration.pending.value = { key: uuid(), answers, saidBy, at: new Date().toISOString() };
    declaration.submitFault.value = undefined;
  });
  keep(declaration);
}

/**
 * Sends the submission that is on its way, if there is one.
 *
 * @returns whether the server took it
 * @throws what is transient: it is to be tried again with the same key
 */
export async function sendSubmission(declaration: Declaration): Promise<boolean> {
  const pending = declaration.pending.value;
  if (pending === undefined) return false;
  try {
    const { body } = await call(
      submitInspection,
      {
        params: { entryId: declaration.entryId },
        headers: { 'idempotency-key': pending.key },
        body: { answers: pending.answers, ...(pending.saidBy === undefined ? {} : { saidBy: pending.saidBy }) },
      },
      { token: declaration.session.token },
    );
    declaration.inspection.value = body;
  } catch (error) {
    if (isTransient(error) || (error instanceof ApiProblem && error.status === 401)) throw error;
    refuse(declaration, error);
    return false;
  }
  declaration.pending.value = undefined;
  keep(declaration);
  // The submission became the draft, and the clearance moved.
  await pull(declaration);
  return true;
}

function refuse(declaration: Declaration, error: unknown): void {
  if (error instanceof ApiProblem && error.status === 422) noteFaults(declaration, error, declaration.cells.value);
  batch(() => {
    declaration.pending.value = undefined;
    declaration.submitFault.value = error instanceof Error ? error.message : String(error);
  });
  keep(declaration);
}

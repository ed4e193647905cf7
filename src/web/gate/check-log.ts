import { v7 as uuidV7 } from 'uuid';
import { ApiProblem, call } from '../api/call.ts';
import { uploadGateChecks } from '../api/operations.ts';
import { admits, type Answer } from './answer.ts';
import { addToLog, countLog, type LoggedCheck, readLog, removeFromLog } from './gate-store.ts';

const AT_ONCE = 200;

/**
 * Writes down what this device answered by itself. What the server answered is in the server's own log.
 *
 * @throws when it cannot be written
 */
export async function logCheck(eventId: string, answer: Answer, at: Date, snapshotSeq: number): Promise<void> {
  const clientId = uuidV7();
  const { carNumber, runGroupId, status, kind } = answer;
  await addToLog({
    clientId,
    eventId,
    check: {
      clientId,
      carNumber,
      ...(runGroupId === undefined ? {} : { runGroupId }),
      askedAt: at.toISOString(),
      admit: admits(kind),
      status,
      snapshotSeq,
    },
  });
}

/**
 * Sends what was not sent yet, in parts; a part leaves the device when the server said that it has it. Sent twice, the
 * server knows each check by its id.
 *
 * @returns checks that are still to be sent
 * @throws ApiProblem, Unreachable
 */
export async function uploadLog(token: string): Promise<number> {
  for (let part = await readLog(AT_ONCE); part.length > 0; part = await readLog(AT_ONCE)) {
    for (const [eventId, entries] of byEvent(part)) {
      await uploadPart(token, eventId, entries);
      await removeFromLog(entries.map(({ clientId }) => clientId));
    }
  }
  return countLog();
}

async function uploadPart(token: string, eventId: string, entries: readonly LoggedCheck[]): Promise<void> {
  const checks = entries.map(({ check }) => check);
  try {
    await call(uploadGateChecks, { params: { eventId }, body: { checks } }, { token });
  } catch (error) {
    // The event is gone from the server, so there is nobody left to tell. Anything else is kept and tried again.
    if (!(error instanceof ApiProblem && error.status === 404)) throw error;
  }
}

function byEvent(entries: readonly LoggedCheck[]): Map<string, LoggedCheck[]> {
  const events = new Map<string, LoggedCheck[]>();
  for (const entry of entries) events.set(entry.eventId, [...(events.get(entry.eventId) ?? []), entry]);
  return events;
}

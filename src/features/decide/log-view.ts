import type { LogEntryView } from './log-schemas.ts';
import type { StoredLog } from './log-store.ts';

/** An entry of the log as callers read it. */
export function viewLog(log: StoredLog): LogEntryView {
  const { logId, entryId, kind, session, at, content, effects, writtenRole, writtenName, writtenAt } = log;
  return {
    logId,
    entryId,
    kind,
    ...(session === null ? {} : { session }),
    at: at.toISOString(),
    ...content,
    ...effects,
    writtenBy: { role: writtenRole, name: writtenName },
    writtenAt: writtenAt.toISOString(),
  };
}

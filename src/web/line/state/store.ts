import { type DBSchema, type IDBPDatabase, openDB } from 'idb';
import type { Draft } from './draft.ts';

interface Schema extends DBSchema {
  drafts: { key: string; value: Draft };
  kept: { key: string; value: unknown };
}

let opened: Promise<IDBPDatabase<Schema>> | undefined;

function database(): Promise<IDBPDatabase<Schema>> {
  opened ??= openDB<Schema>('gridworthy-line', 1, {
    upgrade(db) {
      db.createObjectStore('drafts', { keyPath: 'claimId' });
      db.createObjectStore('kept');
    },
    terminated() {
      opened = undefined;
    },
  });
  return opened;
}

export async function listDrafts(): Promise<Draft[]> {
  return (await database()).getAll('drafts');
}

export async function readDraft(claimId: string): Promise<Draft | undefined> {
  return (await database()).get('drafts', claimId);
}

export async function writeDraft(draft: Draft): Promise<void> {
  await (await database()).put('drafts', draft);
}

export async function deleteDraft(claimId: string): Promise<void> {
  await (await database()).delete('drafts', claimId);
}

/** What the server said last, so that the page has it without a network too. */
export async function keep(name: string, value: unknown): Promise<void> {
  await (await database()).put('kept', value, name);
}

/** What `keep` kept under a name; the caller knows what it put there. */
export async function kept<T>(name: string): Promise<T | undefined> {
  return (await (await database()).get('kept', name)) as T | undefined;
}

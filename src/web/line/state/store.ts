import type { DBSchema } from 'idb';
import { defineStore } from '../../shared/device-store.ts';
import type { Draft } from './draft.ts';

interface Schema extends DBSchema {
  drafts: { key: string; value: Draft };
  kept: { key: string; value: unknown };
}

const store = defineStore<Schema>('gridworthy-line', (db) => {
  db.createObjectStore('drafts', { keyPath: 'claimId' });
  db.createObjectStore('kept');
});

/** @throws on a device that keeps nothing: the page cannot work there */
export async function listDrafts(): Promise<Draft[]> {
  return store.must((db) => db.getAll('drafts'));
}

export async function readDraft(claimId: string): Promise<Draft | undefined> {
  return store.read<Draft | undefined>(undefined, (db) => db.get('drafts', claimId));
}

/** Where the device cannot keep it the page goes on with what it has in memory, and says so. */
export async function writeDraft(draft: Draft): Promise<void> {
  await store.write((db) => db.put('drafts', draft));
}

export async function deleteDraft(claimId: string): Promise<void> {
  await store.write((db) => db.delete('drafts', claimId));
}

/** What the server said last, so that the page has it without a network too. */
export async function keep(name: string, value: unknown): Promise<void> {
  await store.write((db) => db.put('kept', value, name));
}

/** What `keep` kept under a name; the caller knows what it put there. */
export async function kept<T>(name: string): Promise<T | undefined> {
  return store.read(undefined, async (db) => (await db.get('kept', name)) as T | undefined);
}

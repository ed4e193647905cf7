import { type DBSchema, type IDBPDatabase, openDB } from 'idb';
import type { EntryView, FormView, InspectionView } from '../api/operations.ts';
import type { Cells } from './cells.ts';

/** A submission on its way: sent again with the same key until the server has answered. */
export interface Pending {
  key: string;
  answers: Record<string, unknown>;
  at: string;
}

/** What was typed on this device, kept before it is sent. */
export interface Typing {
  entryId: string;
  /** what the server had when this device last agreed with it */
  base: { rev: number; cells: Cells };
  cells: Cells;
  /** texts that are no numbers, by cell, as typed */
  unread: Readonly<Record<string, string>>;
  pending?: Pending | undefined;
}

/** What the server said last, for the time without a network. */
export interface Known {
  entryId: string;
  form: FormView;
  entry: EntryView | undefined;
  inspection: InspectionView | undefined;
  at: string;
}

/** A picture that is not with the server yet. */
export interface WaitingPhoto {
  id: string;
  entryId: string;
  item: string;
  position: string | undefined;
  blob: Blob;
}

interface Schema extends DBSchema {
  typing: { key: string; value: Typing };
  known: { key: string; value: Known };
  photos: { key: string; value: WaitingPhoto; indexes: { entry: string } };
}

let opened: Promise<IDBPDatabase<Schema>> | undefined;

function open(): Promise<IDBPDatabase<Schema>> {
  opened ??= openDB<Schema>('gridworthy-garage', 1, {
    upgrade(db) {
      db.createObjectStore('typing', { keyPath: 'entryId' });
      db.createObjectStore('known', { keyPath: 'entryId' });
      db.createObjectStore('photos', { keyPath: 'id' }).createIndex('entry', 'entryId');
    },
  });
  return opened;
}

export const readTyping = async (entryId: string): Promise<Typing | undefined> => (await open()).get('typing', entryId);

export async function keepTyping(typing: Typing): Promise<void> {
  await (await open()).put('typing', typing);
}

export const readKnown = async (entryId: string): Promise<Known | undefined> => (await open()).get('known', entryId);

export async function keepKnown(known: Known): Promise<void> {
  await (await open()).put('known', known);
}

export const listWaitingPhotos = async (entryId: string): Promise<WaitingPhoto[]> =>
  (await open()).getAllFromIndex('photos', 'entry', entryId);

export async function keepPhoto(photo: WaitingPhoto): Promise<void> {
  await (await open()).put('photos', photo);
}

export async function dropPhoto(id: string): Promise<void> {
  await (await open()).delete('photos', id);
}

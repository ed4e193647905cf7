import type { DBSchema } from 'idb';
import type { EntryView, InspectionView } from '../../api/operations.ts';
import type { FormView } from './form.ts';
import { defineStore } from '../../shared/device-store.ts';
import { type Cells, type Leaf, sameLeaf } from './cells.ts';

/** A submission on its way: sent again with the same key until the server has answered. */
export interface Pending {
  key: string;
  answers: Record<string, unknown>;
  /** who of the entry said it, where an inspector typed it */
  saidBy?: string | undefined;
  at: string;
}

/** What was typed on this device, kept before it is sent. */
export interface Typing {
  /** `keptAs` of the declaration, as in all that follow here */
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

const store = defineStore<Schema>('gridworthy-garage', (db) => {
  db.createObjectStore('typing', { keyPath: 'entryId' });
  db.createObjectStore('known', { keyPath: 'entryId' });
  db.createObjectStore('photos', { keyPath: 'id' }).createIndex('entry', 'entryId');
});

export const readTyping = (entryId: string): Promise<Typing | undefined> =>
  store.read<Typing | undefined>(undefined, (db) => db.get('typing', entryId));

/** @returns whether it is kept, as of all that follow here: the page goes on without it, and says so */
export const keepTyping = (typing: Typing): Promise<boolean> => store.write((db) => db.put('typing', typing));

export const readKnown = (entryId: string): Promise<Known | undefined> =>
  store.read<Known | undefined>(undefined, (db) => db.get('known', entryId));

export const keepKnown = (known: Known): Promise<boolean> => store.write((db) => db.put('known', known));

export const listWaitingPhotos = (entryId: string): Promise<WaitingPhoto[]> =>
  store.read<WaitingPhoto[]>([], (db) => db.getAllFromIndex('photos', 'entry', entryId));

export const keepPhoto = (photo: WaitingPhoto): Promise<boolean> => store.write((db) => db.put('photos', photo));

export const dropPhoto = (id: string): Promise<boolean> => store.write((db) => db.delete('photos', id));

/** A cell that this device and another one changed to different things. */
export interface Conflict {
  cell: string;
  mine: Leaf | undefined;
  theirs: Leaf | undefined;
}

interface Merged {
  cells: Cells;
  conflicts: readonly Conflict[];
  /** cells that only the other side changed */
  taken: readonly string[];
}

/**
 * Brings two changes of the same answers together: what only one side changed is taken from it; what both changed
 * differently stays as it is here and is for a person to decide.
 *
 * @param base what both sides started from
 */
export function merge(base: Cells, mine: Cells, theirs: Cells): Merged {
  const conflicts: Conflict[] = [];
  const taken: string[] = [];
  const cells: Record<string, Leaf> = { ...mine };
  for (const cell of new Set([...Object.keys(base), ...Object.keys(mine), ...Object.keys(theirs)])) {
    const [was, here, there] = [base[cell], mine[cell], theirs[cell]];
    if (sameLeaf(here, there) || sameLeaf(was, there)) continue;
    if (!sameLeaf(was, here)) {
      conflicts.push({ cell, mine: here, theirs: there });
      continue;
    }
    taken.push(cell);
    if (there === undefined) delete cells[cell];
    else cells[cell] = there;
  }
  return { cells, conflicts, taken };
}

/** The cells in which two sets of answers differ. */
export function changedCells(a: Cells, b: Cells): string[] {
  return [...new Set([...Object.keys(a), ...Object.keys(b)])].filter((cell) => !sameLeaf(a[cell], b[cell]));
}

import { computed, signal } from '@preact/signals';
import { type DBSchema, type IDBPDatabase, openDB } from 'idb';

/** What a page keeps on the device, in a database of its own. */
export interface DeviceStore<S extends DBSchema> {
  /** @returns the fallback where the device cannot read: the page starts as on its first day */
  read<T>(fallback: T, act: (db: IDBPDatabase<S>) => Promise<T>): Promise<T>;
  /** @returns whether it is kept; if not, every page says so until something can be kept again */
  write(act: (db: IDBPDatabase<S>) => Promise<unknown>): Promise<boolean>;
  /** For what must not go on without the device. @throws whatever kept it from being done; every page says so too */
  must<T>(act: (db: IDBPDatabase<S>) => Promise<T>): Promise<T>;
}

/** The stores in which something could not be kept, by name. */
const failing = signal<ReadonlySet<string>>(new Set());

/** Whether the last that was to be kept in some store is not on this device, because storage is full, blocked or closed. */
export const isNotKept = computed(() => failing.value.size > 0);

/**
 * Describes a store; nothing is opened before it is used. A connection that the browser closed (storage was cleared, for
 * example) is opened again by the next call, and so is one that could not be opened.
 */
export function defineStore<S extends DBSchema>(name: string, create: (db: IDBPDatabase<S>) => void): DeviceStore<S> {
  let opened: Promise<IDBPDatabase<S>> | undefined;
  const forget = (): void => {
    opened = undefined;
  };
  const open = (): Promise<IDBPDatabase<S>> => {
    opened ??= openDB<S>(name, 1, { upgrade: create, terminated: forget });
    return opened;
  };
  const once = async <T>(act: (db: IDBPDatabase<S>) => Promise<T>): Promise<T> => act(await open());
  const twice = async <T>(act: (db: IDBPDatabase<S>) => Promise<T>): Promise<T> => {
    try {
      return await once(act);
    } catch {
      // The connection may be one that was closed without a word.
      forget();
      return once(act);
    }
  };
  const must = async <T>(act: (db: IDBPDatabase<S>) => Promise<T>): Promise<T> => {
    try {
      const result = await twice(act);
      note(name, true);
      return result;
    } catch (error) {
      forget();
      note(name, false);
      throw error;
    }
  };
  return {
    must,
    read: (fallback, act) => twice(act).catch(() => fallback),
    write: (act) =>
      must(act).then(
        () => true,
        () => false,
      ),
  };
}

function note(name: string, isKept: boolean): void {
  if (failing.value.has(name) !== isKept) return;
  const next = new Set(failing.value);
  if (isKept) next.delete(name);
  else next.add(name);
  failing.value = next;
}

import type { DBSchema } from 'idb';
import type { ShopCar, WorkOrder } from '../api/operations.ts';
import { defineStore } from '../shared/device-store.ts';

/** All cars of a shop as the server listed them last. */
export interface KeptCars {
  shopId: string;
  cars: readonly ShopCar[];
  /** instant */
  at: string;
}

/** What the work order of a car says beside its answers, which the garage's store keeps. */
export interface KeptWork {
  shopLinkId: string;
  car: ShopCar;
  wheelTorque: WorkOrder['wheelTorque'];
}

interface Schema extends DBSchema {
  lists: { key: string; value: KeptCars };
  work: { key: string; value: KeptWork };
}

const store = defineStore<Schema>('gridworthy-shop', (db) => {
  db.createObjectStore('lists', { keyPath: 'shopId' });
  db.createObjectStore('work', { keyPath: 'shopLinkId' });
});

export const readKeptCars = (shopId: string): Promise<KeptCars | undefined> =>
  store.read<KeptCars | undefined>(undefined, (db) => db.get('lists', shopId));

export const keepCars = (list: KeptCars): Promise<boolean> => store.write((db) => db.put('lists', list));

export const readKeptWork = (shopLinkId: string): Promise<KeptWork | undefined> =>
  store.read<KeptWork | undefined>(undefined, (db) => db.get('work', shopLinkId));

export const keepWork = (work: KeptWork): Promise<boolean> => store.write((db) => db.put('work', work));

import type { DBSchema } from 'idb';
import { signal, type Signal } from '@preact/signals';
import { getShopCar, saveShopAnswers, type ShopCar, type WorkOrder } from '../api/operations.ts';
import { defineStore } from '../shared/device-store.ts';
import { call } from '../api/call.ts';
import { type Declaration, makeDeclaration, takeForm } from '../garage/kept/declaration.ts';
import { openKept, type Way, withQuestions } from '../garage/kept/sync.ts';
import { readKnown, readTyping } from '../garage/kept/keep.ts';
import type { Session } from '../shared/session.ts';

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

const readKeptWork = (shopLinkId: string): Promise<KeptWork | undefined> =>
  store.read<KeptWork | undefined>(undefined, (db) => db.get('work', shopLinkId));

const keepWork = (work: KeptWork): Promise<boolean> => store.write((db) => db.put('work', work));

/** A car of the shop as its page works with it: the questions of its part behave as they do in the garage. */
export interface ShopWork {
  declaration: Declaration;
  way: Way;
  car: Signal<ShopCar | undefined>;
  /** from the record of the car; undefined: it does not say */
  wheelTorque: Signal<WorkOrder['wheelTorque']>;
}

export function openWork(session: Session, shopLinkId: string): ShopWork {
  const { token, shopId = '' } = session;
  const params = { shopId, shopLinkId };
  const car = signal<ShopCar | undefined>(undefined);
  const wheelTorque = signal<WorkOrder['wheelTorque']>(undefined);
  // Of the own part there is one draft, whatever is kept on this device of an entry.
  const declaration: Declaration = {
    ...makeDeclaration({ ...session, entryId: shopLinkId }, shopLinkId),
    keptAs: `shop ${shopLinkId}`,
  };
  const way: Way = {
    async pull() {
      const { body } = await call(getShopCar, { params }, { token });
      car.value = body.car;
      wheelTorque.value = body.order.wheelTorque;
      void keepWork({ shopLinkId, car: body.car, wheelTorque: body.order.wheelTorque });
      const form = await withQuestions(body.form, token);
      // A shop answers before declarations open; when they are sent is for the owner.
      takeForm(declaration, { ...form, window: { ...form.window, open: body.car.state !== 'withdrawn' } });
    },
    async save({ base }, answers) {
      const headers = { 'if-match': `"${base.value.rev}"` };
      const { body } = await call(saveShopAnswers, { params, headers, body: { answers } }, { token });
      return body;
    },
  };
  return { declaration, way, car, wheelTorque };
}

/** What this device kept of a car from before. */
export async function openKeptWork({ declaration, car, wheelTorque }: ShopWork): Promise<void> {
  const [kept] = await Promise.all([readKeptWork(declaration.entryId), openKept(declaration)]);
  car.value ??= kept?.car;
  wheelTorque.value ??= kept?.wheelTorque;
}

/**
 * Reads the cars that were never opened on this device, one after the other, so that they can be worked on without a
 * network.
 */
export async function readForLater(session: Session, cars: readonly ShopCar[]): Promise<void> {
  for (const { shopLinkId } of cars) {
    const { declaration, way } = openWork(session, shopLinkId);
    const { keptAs } = declaration;
    if ((await readKnown(keptAs)) !== undefined || (await readTyping(keptAs)) !== undefined) continue;
    try {
      await way.pull(declaration);
    } catch {
      // No network any more, or a car that was taken back just now: it is read when somebody opens it.
      return;
    }
  }
}

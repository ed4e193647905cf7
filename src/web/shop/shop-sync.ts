import { call } from '../api/call.ts';
import { getShopCar, saveShopAnswers, type ShopCar, type WorkOrder } from '../api/operations.ts';
import { signal, type Signal } from '@preact/signals';
import { type Declaration, makeDeclaration, takeForm } from '../garage/kept/declaration.ts';
import { type Way, withQuestions } from '../garage/kept/sync.ts';
import type { Session } from '../shared/session.ts';

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

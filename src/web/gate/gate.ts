import { signal } from '@preact/signals';
import { isTwin, lookAlikesOf, type NumberedCar } from '../../domain/look-alikes.ts';
import type { Answer, Asked } from './answer.ts';
import { answerAlone, askServer } from './ask.ts';
import { uploadLog } from './check-log.ts';
import { type Contact, contactAfter, type GateState } from './contact.ts';
import { countLog, type KeptEvent, readKept, writeKept } from './gate-store.ts';
import { fetchList, type HeldList, type ListFault, readHeldList } from './held-list.ts';
import { keepInTouch } from './keep-in-touch.ts';
import { stillNewer } from './refusals.ts';
import { trustedClock } from './trusted-clock.ts';

const DEVICE_CLOCKS = { wall: () => Date.now(), steady: () => performance.now() };

/** The gate of one event on this device: what it knows, and how it is asked. */
export type Gate = Awaited<ReturnType<typeof openGate>>;

export async function openGate({ event, token }: { event: KeptEvent; token: string }) {
  const { eventId } = event;
  const clock = trustedClock(DEVICE_CLOCKS, await readKept('clock'));
  const contact = signal<Contact>(navigator.onLine ? 'starting' : 'offline');
  const list = signal<HeldList | undefined>(await readHeldList(eventId, clock.now()));
  const fault = signal<ListFault | undefined>(undefined);
  const unsent = signal(0);
  const state: GateState = { eventId, token, clock, contact, list, refusals: (await readKept('refusals')) ?? [] };
  const count = async (): Promise<void> => {
    unsent.value = await countLog().catch(() => unsent.value);
  };

  async function talk(): Promise<void> {
    ({ list: list.value, fault: fault.value } = await fetchList({ eventId, token, held: list.value }, clock));
    contact.value = 'online';
    if (list.value !== undefined) state.refusals = stillNewer(state.refusals, list.value.confirmedAt);
    await uploadLog(token);
  }

  const sync = oneAtATime(async () => {
    try {
      await talk();
    } catch (error) {
      contact.value = contactAfter(error) ?? contact.value;
    }
    await count();
    await writeKept('clock', clock.keep());
    await writeKept('refusals', state.refusals);
  });

  await count();
  return {
    event,
    contact,
    list,
    fault,
    unsent,
    /** the latest that it can be, by the server's clock */
    now: () => clock.now().to,
    jumped: () => clock.jumped(),
    /**
     * The cars that may be meant by a number that was typed, where the list has several that are the same when spoken:
     * nothing is asked, answered or written down before one of them was chosen.
     */
    twins(carNumber: string): readonly NumberedCar[] {
      const cars = list.value?.snapshot.entries ?? [];
      const own = cars.find((car) => car.carNumber === carNumber);
      const others = lookAlikesOf(carNumber, cars).filter(isTwin);
      return own === undefined || others.length === 0 ? [] : [own, ...others];
    },
    async ask(asked: Asked): Promise<Answer> {
      const answer = (await askServer(state, asked)) ?? (await answerAlone(state, asked));
      void count();
      return answer;
    },
    /** keeps the list fresh and the log sent, until the returned function is called */
    run: () => keepInTouch({ sync, contact, clock }),
  };
}

function oneAtATime(work: () => Promise<void>): () => Promise<void> {
  let running: Promise<void> | undefined;
  return () => {
    running ??= work().finally(() => {
      running = undefined;
    });
    return running;
  };
}

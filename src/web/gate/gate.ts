import { signal } from '@preact/signals';
import { isTwin, lookAlikesOf, type NumberedCar } from '../../domain/look-alikes.ts';
import type { GateAnswer } from '../api/operations.ts';
import { openStops, type StopOrder } from '../shared/stops.ts';
import { type Answer, type Asked, withStop } from './answer/answer.ts';
import { answerAlone, askServer, heard } from './answer/ask.ts';
import { type Contact, contactAfter, type GateState, keepInTouch, stillNewer, uploadLog } from './kept/check-log.ts';
import { countLog, type KeptEvent, readKept, writeKept } from './kept/gate-store.ts';
import { fetchList, type GateList, type ListFault, readGateList } from './kept/gate-list.ts';
import { trustedClock } from './kept/trusted-clock.ts';

const DEVICE_CLOCKS = { wall: () => Date.now(), steady: () => performance.now() };

/** The gate of one event on this device: what it knows, and how it is asked. */
export type Gate = Awaited<ReturnType<typeof openGate>>;

export async function openGate({ event, token }: { event: KeptEvent; token: string }) {
  const { eventId } = event;
  const { state, stops } = await openState(eventId, token);
  const { clock, contact, list } = state;
  const fault = signal<ListFault | undefined>(undefined);
  const unsent = signal(0);
  const count = async (): Promise<void> => {
    unsent.value = await countLog().catch(() => unsent.value);
  };

  async function talk(): Promise<void> {
    // What the server refused while the list was on its way is not in it.
    const askedAt = clock.now().from.getTime();
    ({ list: list.value, fault: fault.value } = await fetchList({ eventId, token, held: list.value }, clock));
    contact.value = 'online';
    if (list.value !== undefined) {
      state.refusals = stillNewer(state.refusals, Math.min(askedAt, list.value.confirmedAt));
    }
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
    twins: (carNumber: string): readonly NumberedCar[] => twinsOnList(list.value, carNumber),
    async ask(asked: Asked): Promise<Answer> {
      const answer = (await askServer(state, asked)) ?? (await answerAlone(state, asked));
      void count();
      return withStop(answer, state.stops());
    },
    /** cars that were stopped here, of any event, and of which the server does not know */
    stops: stops.waiting,
    /** Stops the car of an answer. @returns the answer from now on */
    stop(answer: Answer, hold: StopOrder['hold']): Answer {
      const { carNumber } = answer;
      const { stop, sent } = stops.hold({ eventId, carNumber, hold });
      // The list that has the hold is fetched at once.
      void sent.then(sync);
      return withStop(answer, [stop]);
    },
    /** a person has read why a stop was refused */
    forgetStop: stops.forget,
    /** keeps the list fresh, the log and what was stopped sent, until the returned function is called */
    run: () => {
      const stopping = new AbortController();
      stops.keepSending(stopping.signal);
      stopping.signal.addEventListener('abort', keepInTouch({ sync, contact, clock }));
      return () => stopping.abort();
    },
  };
}

/** What this device knows from before. */
async function openState(eventId: string, token: string) {
  const clock = trustedClock(DEVICE_CLOCKS, await readKept('clock'));
  // From here on the server's word counts, and the list that this device has may be older than the hold.
  const heardOf = async (body: GateAnswer): Promise<void> => {
    if (body.eventId === eventId) await heard(state, body);
  };
  const stops = await openStops({ queue: 'gate-stops', token, heard: heardOf });
  const state = {
    eventId,
    token,
    clock,
    contact: signal<Contact>(navigator.onLine ? 'starting' : 'offline'),
    list: signal<GateList | undefined>(await readGateList(eventId, clock.now())),
    refusals: (await readKept('refusals')) ?? [],
    stops: () => stops.waiting.value.filter((stop) => stop.eventId === eventId),
  } satisfies GateState;
  return { state, stops };
}

/**
 * The cars that may be meant by a number that was typed, where the list has several that are the same when spoken:
 * nothing is asked, answered or written down before one of them was chosen.
 */
function twinsOnList(list: GateList | undefined, carNumber: string): readonly NumberedCar[] {
  const cars = list?.snapshot.entries ?? [];
  const own = cars.find((car) => car.carNumber === carNumber);
  const others = lookAlikesOf(carNumber, cars).filter(isTwin);
  return own === undefined || others.length === 0 ? [] : [own, ...others];
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

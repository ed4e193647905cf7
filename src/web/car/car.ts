import { type Signal, signal } from '@preact/signals';
import { ApiProblem, call } from '../api/call.ts';
import {
  addPhoto,
  type CarFacts,
  changeCarFacts,
  getCarFacts,
  getEntry,
  getOwnToken,
  getVehicleRecords,
  type VehicleRecords,
} from '../api/operations.ts';
import type { Session } from '../shared/session.ts';
import type { Facts } from './questions.ts';

export type Origin = 'stamped' | 'handbook' | 'entered';

/** What is to be written: the same value at each of these places. */
export interface Write {
  paths: readonly string[];
  value: string | number | boolean | null;
  origin?: Origin;
  again?: true;
  photoId?: string;
}

/** How a write went; `odd`: the server asks whether it is meant. */
export type Written =
  | { kind: 'saved' }
  | { kind: 'odd'; says: string }
  | { kind: 'refused'; says: string }
  | { kind: 'offline' };

/** The car of this page: what is known of it, and how to write it. */
export interface Car {
  session: Session;
  vehicleId: string;
  known: Signal<CarFacts>;
  records: Signal<VehicleRecords | undefined>;
  write(write: Write): Promise<Written>;
  sendPhoto(file: Blob, at: { item: string; position: string }): Promise<string | undefined>;
}

export const factsOf = ({ facts }: CarFacts): Facts =>
  Object.fromEntries(facts.map(({ path, value }) => [path, value]));

async function findVehicleId({ token, entryId }: Session): Promise<string | undefined> {
  if (entryId === undefined) return (await call(getOwnToken, {}, { token })).body.vehicleId;
  return (await call(getEntry, { params: { entryId } }, { token })).body.vehicleId;
}

/**
 * Loads the car that the access is for; undefined when it is for none.
 *
 * @throws ApiProblem, Unreachable
 */
export async function loadCar(session: Session): Promise<Car | undefined> {
  const { token, entryId } = session;
  const vehicleId = await findVehicleId(session);
  if (vehicleId === undefined) return undefined;
  const params = { vehicleId };
  const known = signal((await call(getCarFacts, { params }, { token })).body);
  const records = signal<VehicleRecords | undefined>(undefined);
  // what is worth keeping may come later, or not at all
  void call(getVehicleRecords, { params }, { token }).then(
    ({ body }) => (records.value = body),
    () => undefined,
  );
  return {
    session,
    vehicleId,
    known,
    records,
    write: async ({ paths, ...fact }) => {
      try {
        const facts = paths.map((path) => ({ path, ...fact }));
        known.value = (await call(changeCarFacts, { params, body: { facts } }, { token })).body;
        return { kind: 'saved' };
      } catch (error) {
        return refusalOf(error);
      }
    },
    async sendPhoto(file, { item, position }) {
      if (entryId === undefined) return undefined;
      const sent = await call(
        addPhoto,
        { params: { entryId }, query: { item, position }, body: file },
        { token, type: file.type, timeoutMs: 60_000 },
      );
      return sent.body.photoId;
    },
  };
}

function refusalOf(error: unknown): Written {
  if (!(error instanceof ApiProblem)) return { kind: 'offline' };
  const [first] = error.problem.errors ?? [];
  const says = first?.detail ?? error.message;
  return first?.code === 'implausible' ? { kind: 'odd', says } : { kind: 'refused', says };
}

import type { DBSchema } from 'idb';
import { v7 as newId } from 'uuid';
import { addPhoto, type CarFacts, changeCarFacts, type VehicleRecords } from '../api/operations.ts';
import { defineStore } from '../shared/device-store.ts';
import type { Unsent } from '../shared/outbox.ts';
import type { Session } from '../shared/session.ts';

export type Origin = 'stamped' | 'handbook' | 'entered';

/** What is to be written: the same value at each of these places. */
export interface Write {
  paths: readonly string[];
  value: string | number | boolean | null;
  origin?: Origin;
  again?: true;
  photoId?: string;
}

/** A picture of a part, and the question of the declaration that it is kept at. */
export interface Picture {
  paths: readonly string[];
  file: Blob;
  entryId: string;
  item: string;
  position: string;
}

const PHOTO_OF = 'photo ';

/** What the server said last of the car of an access, for the time without a network. */
export interface KeptCar {
  /** `accessOf` the session */
  access: string;
  vehicleId: string;
  known: CarFacts;
  records: VehicleRecords | undefined;
  /** instant */
  at: string;
}

interface Schema extends DBSchema {
  cars: { key: string; value: KeptCar };
}

const store = defineStore<Schema>('gridworthy-car', (db) => {
  db.createObjectStore('cars', { keyPath: 'access' });
});

/** Another link may be for another car. */
const accessOf = ({ entryId, token }: Session): string =>
  entryId === undefined ? `link ${token}` : `entry ${entryId}`;

export const readKeptCar = (session: Session): Promise<KeptCar | undefined> =>
  store.read<KeptCar | undefined>(undefined, (db) => db.get('cars', accessOf(session)));

export const keepCar = (session: Session, car: Omit<KeptCar, 'access'>): Promise<boolean> =>
  store.write((db) => db.put('cars', { access: accessOf(session), ...car }));

/** A write of the car that is not with the server, as the page shows it. */
export interface WaitingWrite {
  key: string;
  write: Write;
  /** why the server does not take it, and the code of that: it stays until somebody says something else */
  refused: string | undefined;
  code: string | undefined;
}

export const queueOf = (vehicleId: string): string => `car ${vehicleId}`;
/** One answer of the page: the places it is written to. */
export const aboutOf = ({ paths }: Pick<Write, 'paths'>): string => paths.join(' ');

export function itemOf(vehicleId: string, write: Write): Unsent {
  const { paths, ...fact } = write;
  return {
    key: newId(),
    queue: queueOf(vehicleId),
    about: aboutOf(write),
    operation: { method: changeCarFacts.method, path: changeCarFacts.path },
    input: { params: { vehicleId }, body: { facts: paths.map((path) => ({ path, ...fact })) } },
    queuedAt: Date.now(),
    attempts: 0,
  };
}

/** A picture of what was read, for the places that it was written to: they get it once the server has it. */
export function photoItemOf(vehicleId: string, { paths, file, ...of }: Picture): Unsent {
  const { entryId, item, position } = of;
  return {
    key: newId(),
    queue: queueOf(vehicleId),
    about: `${PHOTO_OF}${aboutOf({ paths })}`,
    operation: { method: addPhoto.method, path: addPhoto.path },
    input: { params: { entryId }, query: { item, position }, body: file },
    type: file.type,
    queuedAt: Date.now(),
    attempts: 0,
  };
}

/** The places that a waiting picture is of; undefined for what is no picture. */
export const photoPathsOf = ({ about }: Unsent): string[] | undefined =>
  about.startsWith(PHOTO_OF) ? about.slice(PHOTO_OF.length).split(' ') : undefined;

export function waitingOf({ key, input, refused, code }: Unsent): WaitingWrite {
  // written by `itemOf` only
  const { facts } = input.body as { facts: (Omit<Write, 'paths'> & { path: string })[] };
  const [{ path: _, ...fact } = { path: '', value: null }] = facts;
  return { key, write: { paths: facts.map(({ path }) => path), ...fact }, refused, code };
}

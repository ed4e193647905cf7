import type { DBSchema } from 'idb';
import { v7 as newId } from 'uuid';
import { computed, type ReadonlySignal, type Signal, signal } from '@preact/signals';
import {
  addPhoto,
  type CarFacts,
  changeCarFacts,
  getCarFacts,
  getEntry,
  getOwnToken,
  getVehicleRecords,
  type PhotoView,
  type VehicleRecords,
} from '../api/operations.ts';
import { defineStore } from '../shared/device-store.ts';
import type { Refused, Sending, Unsent } from '../shared/outbox.ts';
import type { Session } from '../shared/session.ts';
import { type ApiProblem, call, Unreachable } from '../api/call.ts';
import { shrinkPhoto } from '../garage/kept/photos.ts';
import { openQueue } from '../shared/waiting-queue.ts';
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

/** A picture of a part, and the question of the declaration that it is kept at. */
interface Picture {
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

const readKeptCar = (session: Session): Promise<KeptCar | undefined> =>
  store.read<KeptCar | undefined>(undefined, (db) => db.get('cars', accessOf(session)));

const keepCar = (session: Session, car: Omit<KeptCar, 'access'>): Promise<boolean> =>
  store.write((db) => db.put('cars', { access: accessOf(session), ...car }));

/** A write of the car that is not with the server, as the page shows it. */
export interface WaitingWrite {
  key: string;
  write: Write;
  /** why the server does not take it, and the code of that: it stays until somebody says something else */
  refused: string | undefined;
  code: string | undefined;
}

const queueOf = (vehicleId: string): string => `car ${vehicleId}`;
/** One answer of the page: the places it is written to. */
export const aboutOf = ({ paths }: Pick<Write, 'paths'>): string => paths.join(' ');

function itemOf(vehicleId: string, write: Write): Unsent {
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
function photoItemOf(vehicleId: string, { paths, file, ...of }: Picture): Unsent {
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
const photoPathsOf = ({ about }: Unsent): string[] | undefined =>
  about.startsWith(PHOTO_OF) ? about.slice(PHOTO_OF.length).split(' ') : undefined;

function waitingOf({ key, input, refused, code }: Unsent): WaitingWrite {
  // written by `itemOf` only
  const { facts } = input.body as { facts: (Omit<Write, 'paths'> & { path: string })[] };
  const [{ path: _, ...fact } = { path: '', value: null }] = facts;
  return { key, write: { paths: facts.map(({ path }) => path), ...fact }, refused, code };
}

/** The car of this page: what is known of it, and how to write it. */
export interface Car {
  session: Session;
  vehicleId: string;
  /** as the server has it, or had it */
  known: Signal<CarFacts>;
  /** the same with what was said on this device since */
  facts: ReadonlySignal<Facts>;
  records: Signal<VehicleRecords | undefined>;
  /** instant from which this is, where the server was not asked: no network */
  keptSince: Signal<string | undefined>;
  /** what the server does not have yet, or refused, oldest first */
  waiting: ReadonlySignal<readonly WaitingWrite[]>;
  /** Keeps it on this device and sends it. It is in `waiting` when this returns. */
  write(write: Write): void;
  /** pictures that the server does not have yet, or refused, by the first of their places */
  photosWaiting: ReadonlySignal<readonly { path: string; refused: string | undefined }[]>;
  /** Keeps a picture on this device and sends it; the value at its places then says that it is shown. @throws where it is no picture */
  addPhoto(picture: Omit<Picture, 'entryId'>): Promise<void>;
  /** again and again, until the signal; calls when access has ended */
  keepSending(until: AbortSignal, ended: () => void): void;
}

async function findVehicleId({ token, entryId }: Session): Promise<string | undefined> {
  if (entryId === undefined) return (await call(getOwnToken, {}, { token })).body.vehicleId;
  return (await call(getEntry, { params: { entryId } }, { token })).body.vehicleId;
}

interface Read {
  vehicleId: string;
  known: CarFacts;
  records: VehicleRecords | undefined;
  at: string;
  isKept: boolean;
}

async function readServer(session: Session): Promise<Read | undefined> {
  const { token } = session;
  const vehicleId = await findVehicleId(session);
  if (vehicleId === undefined) return undefined;
  const params = { vehicleId };
  const [known, records] = await Promise.all([
    call(getCarFacts, { params }, { token }).then(({ body }) => body),
    // what is worth keeping may be missing; the questions may not
    call(getVehicleRecords, { params }, { token }).then(
      ({ body }) => body,
      () => undefined,
    ),
  ]);
  const read = { vehicleId, known, records, at: new Date().toISOString() };
  await keepCar(session, read);
  return { ...read, isKept: false };
}

/**
 * Loads the car that the access is for, without a network as this device keeps it; undefined when it is for none.
 *
 * @throws ApiProblem; Unreachable where this device never had it
 */
export async function loadCar(session: Session): Promise<Car | undefined> {
  const read = await readServer(session).catch(async (error: unknown) => {
    const kept = error instanceof Unreachable ? await readKeptCar(session) : undefined;
    if (kept === undefined) throw error;
    return { ...kept, isKept: true };
  });
  return read === undefined ? undefined : makeCar(session, read);
}

function makeCar(session: Session, read: Read): Car {
  const { vehicleId } = read;
  const known = signal(read.known);
  const records = signal(read.records);
  const keptSince = signal(read.isKept ? read.at : undefined);
  const take = (next: CarFacts): void => {
    known.value = next;
    keptSince.value = undefined;
    void keepCar(session, { vehicleId, known: next, records: records.value, at: new Date().toISOString() });
  };
  const facts = computed(() => factsWith(known.value, sending.waiting.value));
  const sending = sendingOf(session, vehicleId, { take, valueAt: (path) => facts.value[path] });
  return {
    session,
    vehicleId,
    known,
    records,
    keptSince,
    facts,
    ...sending,
  };
}

/** What is known, with what was said here since; what is not known is not there. */
function factsWith({ facts }: CarFacts, waiting: readonly WaitingWrite[]): Facts {
  const all = new Map<string, string | number | boolean>(facts.map(({ path, value }) => [path, value]));
  for (const { write } of waiting) {
    for (const path of write.paths) {
      if (write.value === null) all.delete(path);
      else all.set(path, write.value);
    }
  }
  return Object.fromEntries(all);
}

function sendingOf(
  session: Session,
  vehicleId: string,
  { take, valueAt }: { take(known: CarFacts): void; valueAt(path: string): Write['value'] | undefined },
): Pick<Car, 'waiting' | 'write' | 'photosWaiting' | 'addPhoto' | 'keepSending'> {
  let ended = (): void => undefined;
  const settled: Sending['settled'] = async (item, answer) => {
    if (!answer.ok) {
      if (answer.problem.status === 401) ended();
      return refusalOf(answer.problem);
    }
    const paths = photoPathsOf(item);
    if (paths === undefined) take(answer.reply.body as CarFacts);
    else {
      const value = valueAt(paths[0] ?? '');
      const { photoId } = answer.reply.body as PhotoView;
      if (value !== undefined) write({ paths, value, origin: 'stamped', photoId });
    }
    return 'done';
  };
  // a new link takes the place of the one that this page began with
  const { items, put, keepSending } = openQueue(queueOf(vehicleId), () => ({ token: session.token, settled }));
  const write = (next: Write): void => {
    // What was said last counts, and setting a fact once more changes nothing.
    const earlier = items.value.filter(({ about }) => about === aboutOf(next));
    void put(
      [itemOf(vehicleId, next)],
      earlier.map(({ key }) => key),
    );
  };
  return {
    waiting: computed(() => items.value.filter((item) => photoPathsOf(item) === undefined).map(waitingOf)),
    photosWaiting: computed(() =>
      items.value.flatMap((item) => {
        const [path] = photoPathsOf(item) ?? [];
        return path === undefined ? [] : [{ path, refused: item.refused }];
      }),
    ),
    write,
    async addPhoto({ file, ...of }) {
      const { entryId } = session;
      if (entryId === undefined) return;
      // shown as kept once it is; that it goes out is not waited for
      const picture = photoItemOf(vehicleId, { ...of, entryId, file: await shrinkPhoto(file) });
      const earlier = items.value.filter(({ about }) => about === picture.about);
      void put(
        [picture],
        earlier.map(({ key }) => key),
      );
    },
    keepSending(until, whenEnded) {
      ended = whenEnded;
      keepSending(until);
    },
  };
}

/** Access may be given anew: until then what was said stays here. */
function refusalOf(error: ApiProblem): 'again' | Refused {
  if (error.status === 401 || error.status === 403) return 'again';
  const [first] = error.problem.errors ?? [];
  return { refused: first?.detail ?? error.message, ...(first !== undefined && { code: first.code }) };
}

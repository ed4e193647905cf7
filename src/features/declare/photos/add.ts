import multipart from '@fastify/multipart';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { findItem, itemApplies, positionsFor } from '../../../domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../../domain/catalogue/item.ts';
import type { Vehicle } from '../../../domain/vehicle.ts';
import { type FieldError, nameFaults, notFound, ProblemError } from '../../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import {
  checkPhotoHeader,
  isHeif,
  PHOTO_TYPES,
  PhotoRefused,
  reencodePhoto,
  type StoredImage,
} from '../../../platform/photos/photo-image.ts';
import { contentHash } from '../../../platform/photos/photo-store.ts';
import { entryWithdrawn, lockEntryForChange } from '../../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../../records/history/history.ts';
import { createLimiter, NoTurn } from '../../../platform/queue/outbox-relay.ts';
import { askStore, claimFolder, removedPhotosKeptSince } from './read.ts';
import type { SentPicture } from './schemas.ts';
import { countPhotos, findPhotoEntry, findSamePhoto, insertPhoto, type Photo, type PhotoPlace } from './store.ts';

const TYPES: ReadonlySet<string> = new Set(PHOTO_TYPES);

/** What a form may have around its one file: the boundaries and the headers of the part. */
const FORM_OVERHEAD_BYTES = 16_384;

/**
 * Makes the routes of this plugin read pictures, bare or as the one file of a form, and nothing else. A route's `body` is
 * a `SentPicture` then. What the bytes are is decided later, by what is in them.
 */
export async function installPictureBody(app: FastifyInstance, maxBytes: number): Promise<void> {
  app.removeAllContentTypeParsers();
  // All of them, because what a telephone sends is told better by its content than by "media type not supported".
  app.addContentTypeParser(/^image\//i, { parseAs: 'buffer' }, async (request: FastifyRequest, body: Buffer) => {
    const sent = toSent(body, request.headers['content-type'] ?? '');
    if (TYPES.has(sent.mediaType)) return sent;
    throw notRead(body);
  });
  const limits = { fileSize: maxBytes, files: 1, fields: 0, parts: 1, headerPairs: 20 };
  await app.register(multipart, { limits });
  app.addHook('preValidation', async (request) => {
    if (request.isMultipart()) request.body = await pictureIn(request, maxBytes);
  });
}

function toSent(bytes: Buffer, contentType: string): SentPicture {
  return { bytes, mediaType: (contentType.split(';')[0] ?? '').trim().toLowerCase() };
}

async function pictureIn(request: FastifyRequest, maxBytes: number): Promise<SentPicture> {
  // The limit of a body does not reach a form, whose parts are read one by one.
  if (Number(request.headers['content-length'] ?? 0) > maxBytes + FORM_OVERHEAD_BYTES) throw tooLarge(maxBytes);
  let sent: SentPicture | undefined;
  try {
    for await (const part of request.parts()) {
      if (part.type !== 'file') throw oneFile('The form has a field that is no file.');
      sent = toSent(await part.toBuffer(), part.mimetype);
    }
  } catch (error) {
    // What is left of the form is let through, so that the sender comes to read the answer.
    request.raw.unpipe();
    request.raw.resume();
    throw formProblem(error, maxBytes);
  }
  if (sent === undefined) throw oneFile('The form has no file.');
  return sent;
}

function formProblem(error: unknown, maxBytes: number): ProblemError {
  if (error instanceof ProblemError) return error;
  const code = error instanceof Error && 'code' in error ? error.code : undefined;
  if (code === 'FST_REQ_FILE_TOO_LARGE') return tooLarge(maxBytes);
  if (typeof code === 'string' && /^FST_(PARTS|FILES|FIELDS)_LIMIT$/.test(code)) {
    return oneFile('The form has more than one part.');
  }
  return oneFile('The form cannot be read.');
}

function tooLarge(maxBytes: number): ProblemError {
  return new ProblemError('body-too-large', `A photo may have at most ${Math.floor(maxBytes / 1024)} KiB.`);
}

function oneFile(what: string): ProblemError {
  const detail = `${what} Send one file and nothing else; item and position go into the query.`;
  return new ProblemError('invalid-request', `In the body: ${detail}`, {
    errors: [{ pointer: '', code: 'not-one-file', detail, in: 'body' }],
  });
}

/** At most two pictures are decoded at once, so that the gate stays quick; a few more may wait. */
const AT_ONCE = 2;
const WAITING = 6;
const RETRY_AFTER_SECONDS = 5;

/** Makes of a sent picture the one that is kept. */
export type Convert = (sent: SentPicture) => Promise<StoredImage>;

/**
 * The conversion of one process, with its queue.
 *
 * @returns a function that throws ProblemError `unsupported-media-type`, `photo-not-acceptable`, `photos-busy`
 */
export function createConverter(limits: { maxPixels: number }): Convert {
  const inTurn = createLimiter({ atOnce: AT_ONCE, waiting: WAITING });
  return async (sent) => {
    try {
      const type = await checkPhotoHeader(sent.bytes, limits);
      assertNamed(sent, type);
      return await inTurn(() => reencodePhoto(sent.bytes, limits));
    } catch (error) {
      throw problemOf(error, sent);
    }
  };
}

/** A picture under the name of another type is a mistake or a trick; a file that a form does not name is neither. */
function assertNamed({ mediaType }: SentPicture, type: string): void {
  // Some telephones say `image/jpg`, which is no registered name.
  const named = mediaType === 'image/jpg' ? 'image/jpeg' : mediaType;
  if (named === type || named === 'application/octet-stream') return;
  throw new ProblemError('unsupported-media-type', `This was sent as ${mediaType}, but its content is ${type}.`);
}

/** Too many photos at the moment. */
export function photosBusy(): ProblemError {
  const wait = { 'retry-after': String(RETRY_AFTER_SECONDS) };
  return new ProblemError('photos-busy', 'Too many photos are being read. Send it again in a moment.', {}, wait);
}

function problemOf(error: unknown, { bytes }: SentPicture): unknown {
  if (error instanceof NoTurn) return photosBusy();
  if (!(error instanceof PhotoRefused)) return error;
  if (error.reason === 'too-slow') return photosBusy();
  if (error.reason !== 'not-a-picture') return new ProblemError('photo-not-acceptable', error.message);
  return notRead(bytes);
}

/** The refusal of content that is no picture we read. */
export function notRead(bytes: Buffer): ProblemError {
  const detail = isHeif(bytes)
    ? 'HEIC and AVIF pictures are not read here. Set the camera to "most compatible" (JPEG), or convert the picture.'
    : 'Send a JPEG, PNG or WebP picture.';
  return new ProblemError('unsupported-media-type', detail);
}

interface Upload extends PhotoPlace {
  sent: SentPicture;
  requestId: string;
}

/**
 * Keeps a photo of an entry. The file is safe before its row is written: whatever fails in between leaves a file that
 * nobody names, never a row without its picture. The same picture at the same place is kept once.
 *
 * @returns `added` false when it was there already
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn), `not-acceptable`, `too-many-photos`,
 *   `unsupported-media-type`, `photo-not-acceptable`, `photos-busy`, `photo-store-unavailable`
 */
export async function addPhoto(
  deps: Deps,
  actor: Actor,
  upload: Upload,
  convert: Convert,
): Promise<{ photo: Photo; added: boolean }> {
  await assertWanted(deps, upload);
  const image = await convert(upload.sent);
  const hash = contentHash(image.bytes);
  const there = await findSamePhoto(deps.db.prisma, upload, hash);
  if (there !== undefined) return { photo: there, added: false };
  await assertRoom(deps, deps.db.prisma, upload.entryId);
  await askStore(deps, async (store) => {
    await claimFolder(deps);
    await store.put(hash, image.bytes);
  });
  return inTransaction(deps.db.prisma, (tx) => record(tx, { deps, actor, upload, image, hash }));
}

/** Refuses what can be refused without decoding the picture. */
async function assertWanted(deps: Deps, { entryId, item, position }: Upload): Promise<void> {
  const entry = await findPhotoEntry(deps.db.prisma, entryId);
  if (entry === undefined) throw notFound('entry');
  if (entry.withdrawn) throw entryWithdrawn();
  assertPlace(item, position, entry.vehicle);
}

async function assertRoom({ config, clock }: Deps, db: Tx, entryId: string): Promise<void> {
  const most = config.photosPerEntry;
  const { counting, removed } = await countPhotos(db, entryId, removedPhotosKeptSince(clock.now()));
  if (counting >= most) {
    throw new ProblemError('too-many-photos', `This entry has ${counting} photos; at most ${most} are kept.`);
  }
  // Removed ones take their place in the store for a while.
  if (removed >= 2 * most) {
    throw new ProblemError('too-many-photos', `${removed} photos of this entry were removed lately. Wait with more.`);
  }
}

async function record(
  tx: Tx,
  what: { deps: Deps; actor: Actor; upload: Upload; image: StoredImage; hash: string },
): Promise<{ photo: Photo; added: boolean }> {
  const { deps, actor, upload, image, hash } = what;
  const { entryId, item, position, requestId } = upload;
  const entry = await lockEntryForChange(tx, entryId, 'entry');
  const there = await findSamePhoto(tx, upload, hash);
  if (there !== undefined) return { photo: there, added: false };
  await assertRoom(deps, tx, entryId);
  const now = deps.clock.now();
  const { mediaType, width, height } = image;
  const size = { mediaType, width, height, bytes: image.bytes.length };
  const photo = await insertPhoto(tx, { entryId, item, position, hash, ...size, actor, at: now });
  const data = { photoId: photo.photoId, item, ...(position === undefined ? {} : { position }), hash };
  await recordEntryHistory(tx, entry, { actor, at: now, action: 'photo.added', data, requestId });
  return { photo, added: true };
}

/**
 * Checks that the car has what a photo is said to show. The position may be left out (a photo of all of it), and a wheel
 * stands for what is asked at several places of it.
 *
 * @throws ProblemError `not-acceptable`
 */
function assertPlace(item: string, position: string | undefined, vehicle: Vehicle): void {
  const fault = placeFault(item, position, vehicle);
  if (fault === undefined) return;
  throw new ProblemError('not-acceptable', `In the query: ${nameFaults([fault])}`, { errors: [fault] });
}

function placeFault(key: string, position: string | undefined, vehicle: Vehicle): FieldError | undefined {
  const item = findItem(key);
  if (item === undefined) return fault('/item', 'unknown-item', 'The catalogue has no such item.');
  if (!itemApplies(item, vehicle)) return fault('/item', 'not-applicable', 'This item does not apply to this car.');
  if (position === undefined) return undefined;
  const positions = positionsFor(item, vehicle);
  if (positions === undefined) return fault('/position', 'unknown-position', 'This item has no positions.');
  const wheels: readonly string[] = POSITION_KEYS.wheel;
  const isWheel = wheels.includes(position) && positions.some((one) => one.startsWith(`${position}.`));
  if (isWheel || positions.includes(position)) return undefined;
  return fault('/position', 'unknown-position', `Give one of: ${positions.join(', ')}.`);
}

function fault(pointer: string, code: string, detail: string): FieldError {
  return { pointer, code, detail, in: 'query' };
}

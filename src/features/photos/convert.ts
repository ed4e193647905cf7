import { ProblemError } from '../../http/problem.ts';
import { checkPhotoHeader, PhotoRefused, reencodePhoto, type StoredImage } from '../../platform/photo-image.ts';
import { isHeif } from '../../platform/photo-type.ts';
import { createTurns, NoTurn } from '../../platform/turns.ts';
import type { SentPicture } from './schemas.ts';

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
  const inTurn = createTurns({ atOnce: AT_ONCE, waiting: WAITING });
  return async (sent) => {
    try {
      const type = await checkPhotoHeader(sent.bytes, limits);
      assertNamed(sent, type);
      return await inTurn(() => reencodePhoto(sent.bytes, limits));
    } catch (error) {
      throw refusal(error, sent);
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

function refusal(error: unknown, { bytes }: SentPicture): unknown {
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

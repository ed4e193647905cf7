import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { STAFF } from '../../../domain/actor.ts';
import { entryParams } from '../../../http/frame/common-schemas.ts';
import { etagOf, isNotModified } from '../../../http/frame/headers.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { addPhoto, type Convert, createConverter, installPictureBody, notRead, photosBusy } from './add.ts';
import { getPhoto, getPicture, listPhotosOf, removePhoto } from './read.ts';
import {
  AddPhotoQuery,
  PHOTO_BODIES,
  PHOTO_EXAMPLE,
  PhotoList,
  photoParams,
  PhotoView,
  type SentPicture,
  viewPhoto,
} from './schemas.ts';
import type { Photo } from './store.ts';

/** Each may hold a whole picture in memory while it arrives. */
const MOST_AT_ONCE = 16;

/** Lets only so many uploads of this plugin arrive at once; over it they are refused before their body is read. */
function limitUploads(app: FastifyInstance): void {
  let open = 0;
  app.addHook('onRequest', async (_request, reply) => {
    if (open >= MOST_AT_ONCE) throw photosBusy();
    open += 1;
    // Comes in any case, also when the sender hangs up.
    reply.raw.once('close', () => {
      open -= 1;
    });
  });
}

const ADD_DESCRIPTION = `The body is the picture itself: JPEG, PNG or WebP, told by its content. It is decoded and encoded
anew as JPEG with at most 2560 pixels on its longest side, so camera data such as the position is gone. HEIC is not read:
let the telephone send JPEG. A picture that was made smaller before it is sent arrives sooner where the signal is poor.

Sending the same picture for the same item and position again answers 200 with the photo that is there, so a repeat does
no harm. Rules that ask for photos count different pictures of an item.`;

const ONE_DAY_SECONDS = 86_400;

/** Evidence photos: add, list, look at, remove. */
export async function photoRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const { photoMegapixels, photoLimitKb } = deps.config;
  const convert = createConverter({ maxPixels: photoMegapixels * 1_000_000 });
  await app.register(async (uploads) => {
    await installPictureBody(uploads, photoLimitKb * 1024);
    limitUploads(uploads);
    addUploadRoute(uploads, deps, convert);
  });
  addReadRoutes(app, deps);
  addRoute(app, {
    method: 'DELETE',
    path: '/photos/:photoId',
    operationId: 'removePhoto',
    summary: 'Remove a photo',
    description:
      'An entrant removes photos that an entrant sent, until the line has decided about the newest revision; a chief removes any. The removal stays in the history.',
    tag: 'Photos',
    access: ['chief', 'entrant'],
    params: photoParams,
    success: { 204: { description: 'It counts for nothing and is served to nobody any more' } },
    problems: ['not-found', 'conflict-of-interest', 'state-moved-on'],
    handle: async ({ params, actor, request }) => {
      await removePhoto(deps, actor, { photoId: params.photoId, requestId: request.id });
      return { status: 204 };
    },
  });
}

function addUploadRoute(app: FastifyInstance, deps: Deps, convert: Convert): void {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/photos',
    operationId: 'addPhoto',
    summary: 'Add a photo of an item',
    description: ADD_DESCRIPTION,
    tag: 'Photos',
    access: ['entrant', 'inspector', 'chief'],
    params: entryParams,
    query: AddPhotoQuery,
    body: z.unknown(),
    bodies: PHOTO_BODIES,
    bodyType: 'image/jpeg',
    bodyLimitBytes: deps.config.photoLimitKb * 1024,
    success: {
      201: {
        description: 'Kept',
        schema: PhotoView,
        headers: { Location: 'The picture' },
        example: PHOTO_EXAMPLE,
      },
      200: { description: 'This picture is there already', schema: PhotoView, example: PHOTO_EXAMPLE },
    },
    problems: [
      'not-found',
      'state-moved-on',
      'too-many-photos',
      'not-acceptable',
      'photo-not-acceptable',
      'photos-busy',
      'photo-store-unavailable',
    ],
    handle: async ({ params, query, body, actor, request }) => {
      if (!isPicture(body)) throw notRead(Buffer.alloc(0));
      const { item, position } = query;
      const upload = { entryId: params.entryId, item, position, sent: body, requestId: request.id };
      const { photo, added } = await addPhoto(deps, actor, upload, convert);
      const view = viewPhoto(photo);
      if (!added) return { status: 200, body: view };
      return { status: 201, body: view, headers: { location: `/v1/photos/${photo.photoId}` } };
    },
  });
}

/** The parsers of the route make nothing else. */
function isPicture(body: unknown): body is SentPicture {
  return typeof body === 'object' && body !== null && 'bytes' in body && Buffer.isBuffer(body.bytes);
}

function addReadRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/photos',
    operationId: 'listPhotos',
    summary: 'List the photos of an entry',
    description:
      'Where each belongs and what was stored of it, in the order of upload; the pictures have addresses of their own.',
    tag: 'Photos',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    success: { 200: { description: 'The photos', schema: PhotoList, example: { photos: [PHOTO_EXAMPLE] } } },
    problems: ['not-found'],
    handle: async ({ params }) => ({
      status: 200,
      body: { photos: (await listPhotosOf(deps, params.entryId)).map(viewPhoto) },
    }),
  });
  addRoute(app, {
    method: 'GET',
    path: '/photos/:photoId',
    operationId: 'getPhoto',
    summary: 'Look at a photo',
    description: 'The picture as it was stored: encoded anew, without place, names and other appended data.',
    tag: 'Photos',
    access: [...STAFF, 'entrant'],
    params: photoParams,
    headers: z.looseObject({ 'if-none-match': z.string().optional().describe('ETag of the copy the caller has') }),
    success: {
      200: {
        description: 'The picture',
        schema: z.unknown().meta({ description: 'The picture', type: 'string', format: 'binary' }),
        contentType: 'image/jpeg',
        headers: { ETag: 'SHA-256 of the picture' },
        example: '(the bytes of the picture)',
      },
      304: { description: 'The copy the caller has is the picture', headers: { ETag: 'SHA-256 of the picture' } },
    },
    problems: ['not-found', 'photo-store-unavailable'],
    handle: async ({ params, headers: { 'if-none-match': known }, actor }) => {
      const photo = await getPhoto(deps, actor, params.photoId);
      const headers = pictureHeaders(photo);
      if (isNotModified(known, headers.etag)) return { status: 304, headers };
      return {
        status: 200,
        body: await getPicture(deps, photo),
        headers: { ...headers, 'content-type': photo.mediaType },
      };
    },
  });
}

/** A picture never changes; but it is shown only to whom the server lets in, and only as a picture. */
function pictureHeaders(photo: Photo) {
  return {
    etag: etagOf(photo.hash),
    'cache-control': `private, max-age=${ONE_DAY_SECONDS}, immutable`,
    // One device may serve several people in turn.
    vary: 'authorization',
    'content-disposition': `inline; filename="${photo.photoId}.jpg"`,
    'x-content-type-options': 'nosniff',
    'content-security-policy': "default-src 'none'; sandbox",
  };
}

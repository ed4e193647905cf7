import { z } from 'zod';
import { Id, InstantOut } from '../../../http/frame/common-schemas.ts';
import type { MediaForm } from '../../../http/frame/route.ts';
import { PHOTO_TYPES } from '../../../platform/photos/photo-image.ts';
import type { Photo } from './store.ts';

export const photoParams = z.strictObject({ photoId: Id });

export const AddPhotoQuery = z.strictObject({
  item: z.string().min(1).max(80).describe('Catalogue key of what the photo shows'),
  position: z.string().min(1).max(40).optional().describe('Where on the car, for an item with positions'),
});
export type AddPhotoQuery = z.infer<typeof AddPhotoQuery>;

/** A picture as it was sent, with the type that the sender gave it. */
export interface SentPicture {
  bytes: Buffer;
  mediaType: string;
}

/** Bodies are read by the parsers of the route; what they make of them is no JSON that a schema could check. */
const binary = (description: string) => z.unknown().meta({ description, type: 'string', format: 'binary' });

const pictures = PHOTO_TYPES.map((type): [string, MediaForm] => [
  type,
  { schema: binary('The picture itself'), example: '(the bytes of the picture)' },
]);

/** The picture itself, or a form with one file in it. */
export const PHOTO_BODIES: Readonly<Record<string, MediaForm>> = {
  ...Object.fromEntries(pictures),
  'multipart/form-data': {
    schema: z.unknown().meta({
      description: 'A form with one file, under any name, and nothing else',
      type: 'object',
      properties: { file: { description: 'The picture', type: 'string', format: 'binary' } },
      required: ['file'],
      additionalProperties: false,
    }),
    example: { file: '(the bytes of the picture)' },
  },
};

export const PhotoView = z
  .object({
    photoId: Id.describe('Id of this photo'),
    entryId: Id.describe('Its entry'),
    item: z.string().describe('Catalogue key of what it shows'),
    position: z.string().optional().describe('Where on the car'),
    mediaType: z.string().describe('Type of the picture as it is kept'),
    width: z.int().describe('Pixels'),
    height: z.int().describe('Pixels'),
    bytes: z.int().describe('Size of the picture as it is kept'),
    contentHash: z.string().describe('SHA-256 of the picture as it is kept, hexadecimal; also its ETag'),
    uploadedBy: z.object({ role: z.string(), name: z.string() }).describe('Who sent it'),
    uploadedAt: InstantOut,
  })
  .meta({ id: 'PhotoView' });
export type PhotoView = z.infer<typeof PhotoView>;

export const PhotoList = z.object({ photos: z.array(PhotoView).describe('Oldest first') }).meta({ id: 'PhotoList' });

export const PHOTO_EXAMPLE: PhotoView = {
  photoId: '019ab8f0-0000-7000-8000-000000000151',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  item: 'pad.thickness',
  position: 'FL.in',
  mediaType: 'image/jpeg',
  width: 2560,
  height: 1920,
  bytes: 612_004,
  contentHash: '9f2c4d1e5a4b3c2d1e0f9a8b7c6d5e4f3a2b1c0d9e8f7a6b5c4d3e2f1a0b9c8d',
  uploadedBy: { role: 'entrant', name: 'Ida Brennemoen' },
  uploadedAt: '2026-06-09T18:12:00.000Z',
};

/** What callers read of a photo. */
export function viewPhoto(photo: Photo): PhotoView {
  const { photoId, entryId, item, position, mediaType, width, height, bytes, hash } = photo;
  return {
    photoId,
    entryId,
    item,
    ...(position === undefined ? {} : { position }),
    mediaType,
    width,
    height,
    bytes,
    contentHash: hash,
    uploadedBy: { role: photo.uploadedRole, name: photo.uploadedName },
    uploadedAt: photo.uploadedAt.toISOString(),
  };
}

import { z } from 'zod';
import { Id } from './common-schemas.ts';

/** A photo where it is mentioned beside something else; the picture is at `/photos/{photoId}`. */
export const PhotoRef = z.object({
  photoId: Id.describe('The picture is at `/v1/photos/{photoId}`'),
  item: z.string().describe('Catalogue key'),
  position: z.string().optional().describe('Where on the car'),
});
export type PhotoRef = z.infer<typeof PhotoRef>;

export const PHOTO_REF_EXAMPLE: PhotoRef = {
  photoId: '019ab8f0-0000-7000-8000-000000000151',
  item: 'pad.thickness',
  position: 'FL.in',
};

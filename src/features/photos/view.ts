import type { PhotoView } from './schemas.ts';
import type { Photo } from './store.ts';

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

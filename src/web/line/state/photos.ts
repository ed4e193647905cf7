import { v4 as newId } from 'uuid';
import { addPhoto } from '../../api/operations.ts';
import { keepUnsent } from '../../shared/outbox.ts';
import { type Station, QUEUE } from './station.ts';
import { cellOf, type Worksheet, type Point } from './worksheet.ts';
import { newsKey } from './photo-news.ts';
import { sendAll } from './sign-off.ts';

/** Keeps a photo and sends it when it can be. The same picture twice is one picture, so sending again harms nothing. */
export async function takePhoto(
  station: Station,
  worksheet: Worksheet,
  { point, file }: { point: Point; file: Blob },
): Promise<void> {
  const { item, position } = point;
  await keepUnsent({
    key: newId(),
    queue: QUEUE,
    about: newsKey(worksheet.claimId, cellOf(point)),
    operation: { method: addPhoto.method, path: addPhoto.path },
    input: {
      params: { entryId: worksheet.claim.entryId },
      query: position === undefined ? { item } : { item, position },
      body: file,
    },
    type: file.type === '' ? 'image/jpeg' : file.type,
  });
  await sendAll(station);
}

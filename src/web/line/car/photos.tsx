import { useSignal } from '@preact/signals';
import { v4 as newId } from 'uuid';
import { call } from '../../api/call.ts';
import { addPhoto, getPhoto } from '../../api/operations.ts';
import { keepUnsent } from '../../shared/outbox.ts';
import { newsKey, photoNews, sendAll } from '../state/sign-off.ts';
import { ask, QUEUE, type Station } from '../state/station.ts';
import { cellOf, type Point, type Worksheet } from '../state/worksheet.ts';
import { text } from '../text.ts';

const { t } = text;

interface Props {
  station: Station;
  worksheet: Worksheet;
  point: Point;
  name: string;
}

/** Photos of a place: those that are there, and one more from the camera. */
export function Photos({ station, worksheet, point, name }: Props) {
  const cell = cellOf(point);
  const key = newsKey(worksheet.claimId, cell);
  const news = photoNews.value[key];
  const waiting = station.unsent.value.filter((item) => item.about === key).length;
  const there = worksheet.claim.photos.filter((photo) => cellOf(photo) === cell);
  return (
    <div class="stack">
      <label class="button glove file">
        {t('photo.take')}
        <span class="unseen">: {name}</span>
        <input
          class="unseen"
          type="file"
          accept="image/*"
          capture="environment"
          onChange={(event) => {
            const [file] = event.currentTarget.files ?? [];
            if (file !== undefined) void takePhoto(station, worksheet, { point, file });
            event.currentTarget.value = '';
          }}
        />
      </label>
      <p role="status">
        {waiting > 0 && <strong>{t('photo.waiting', { count: waiting })} </strong>}
        {(news?.sent ?? 0) > 0 && t('photo.sent', { count: news?.sent ?? 0 })}
      </p>
      {news?.refused !== undefined && (
        <p class="notice bad" role="alert">
          {t('photo.refused', { detail: news.refused })}
        </p>
      )}
      {there.length > 0 && <There station={station} photoIds={there.map(({ photoId }) => photoId)} name={name} />}
    </div>
  );
}

/** Read only when asked for: a picture is larger than all else together. */
function There({ station, photoIds, name }: { station: Station; photoIds: readonly string[]; name: string }) {
  const shown = useSignal<readonly string[]>([]);
  const load = async () => {
    for (const photoId of photoIds) {
      const done = await ask(station, () =>
        call(getPhoto, { params: { photoId }, headers: {} }, { token: station.session.token }),
      );
      if (done.ok && done.value.status === 200) shown.value = [...shown.value, URL.createObjectURL(done.value.body)];
    }
  };
  if (shown.value.length === 0) {
    return (
      <button type="button" class="glove" onClick={() => void load()}>
        {t('photo.show', { count: photoIds.length })}
      </button>
    );
  }
  return (
    <>
      {shown.value.map((url) => (
        <img key={url} src={url} alt={t('photo.alt', { name })} />
      ))}
    </>
  );
}

/** Keeps a photo and sends it when it can be. The same picture twice is one picture, so sending again harms nothing. */
async function takePhoto(
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

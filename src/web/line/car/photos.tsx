import { useSignal } from '@preact/signals';
import { call } from '../../api/call.ts';
import { getPhoto } from '../../api/operations.ts';
import { ask, type Station } from '../state/station.ts';
import { cellOf, type Worksheet, type Point } from '../state/worksheet.ts';
import { newsKey, photoNews } from '../state/photo-news.ts';
import { takePhoto } from '../state/photos.ts';
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

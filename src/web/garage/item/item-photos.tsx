import { useEffect, useState } from 'preact/hooks';
import type { FormItem } from '../kept/asked.ts';
import { useGarage } from '../context.ts';
import { dropSentPhoto, forgetWaiting, photoAddress, takePhoto } from '../kept/photos.ts';
import { text } from '../text.ts';

const { t } = text;

/** The question at which the photo of the workshop sheet is kept: the check before the event. */
export const SHEET_ITEM = 'pre-event-check.done-on';

/** Photos of an item: those that are kept, those that wait, and the camera. */
export function ItemPhotos({ item }: { item: FormItem }) {
  const { declaration, sync } = useGarage();
  // A shop has no way to send them.
  if (declaration.session.role === 'shop') return null;
  const waiting = declaration.waitingPhotos.value.filter((one) => one.item === item.key);
  const id = `photo-${item.key}`;
  const take = async (file: File | undefined): Promise<void> => {
    if (file === undefined) return;
    try {
      await takePhoto(declaration, item.key, undefined, file);
      void sync.now();
    } catch {
      // The browser cannot read it: nothing was kept, and the person hears so.
      declaration.photoFault.value = t('photo.unreadable');
    }
  };
  return (
    <div class="photos row">
      {item.photos.map(({ photoId }, index) => (
        <SentPhoto key={photoId} photoId={photoId} name={`${item.label}, ${t('photo.name', { n: index + 1 })}`} />
      ))}
      {waiting.map(({ id: photo }) => (
        <span key={photo} class="row">
          {t('photo.waits')}
          <button type="button" onClick={() => void forgetWaiting(declaration, photo)}>
            {t('photo.remove')} <span class="unseen">{item.label}</span>
          </button>
        </span>
      ))}
      {declaration.open.value && (
        <label class="button" for={id}>
          {t('photo.add')} <span class="unseen">{item.label}</span>
          <input
            id={id}
            class="unseen"
            type="file"
            accept="image/*"
            capture="environment"
            onChange={({ currentTarget }) => {
              void take(currentTarget.files?.[0]);
              currentTarget.value = '';
            }}
          />
        </label>
      )}
    </div>
  );
}

function SentPhoto({ photoId, name }: { photoId: string; name: string }) {
  const { declaration } = useGarage();
  const [address, setAddress] = useState<string | undefined>(undefined);
  useEffect(() => {
    photoAddress(declaration, photoId).then(setAddress, () => setAddress(undefined));
  }, [declaration, photoId]);
  const drop = async (): Promise<void> => {
    try {
      await dropSentPhoto(declaration, photoId);
    } catch (error) {
      declaration.photoFault.value = t('photo.not-removed', { detail: error instanceof Error ? error.message : '' });
    }
  };
  return (
    <figure class="photo">
      {address === undefined ? <span class="soft">{t('photo.kept')}</span> : <img src={address} alt={name} />}
      {declaration.open.value && declaration.session.role !== 'inspector' && (
        <button type="button" onClick={() => void drop()}>
          {t('photo.remove')} <span class="unseen">{name}</span>
        </button>
      )}
    </figure>
  );
}

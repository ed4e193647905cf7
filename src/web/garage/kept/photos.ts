import { v4 as uuid } from 'uuid';
import { ApiProblem, call, isTransient } from '../../api/call.ts';
import { addPhoto, getPhoto, removePhoto } from '../../api/operations.ts';
import type { Declaration } from './declaration.ts';
import { dropPhoto, keepPhoto, type WaitingPhoto } from './keep.ts';
import { pull } from './sync.ts';

const MOST_BYTES = 300_000;
const FIRST_SIDE = 1600;
const QUALITIES = [0.82, 0.7, 0.55];

/** A smaller JPEG of a picture: at most about 300 kB. @throws DOMException when the browser cannot read it */
export async function shrinkPhoto(file: Blob): Promise<Blob> {
  const picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
  let smallest: Blob | undefined;
  for (let side = FIRST_SIDE; side >= 400; side = Math.round(side * 0.75)) {
    for (const quality of QUALITIES) {
      smallest = await drawn(picture, side, quality);
      if (smallest.size <= MOST_BYTES) return smallest;
    }
  }
  return smallest ?? file;
}

async function drawn(picture: ImageBitmap, side: number, quality: number): Promise<Blob> {
  const scale = Math.min(1, side / Math.max(picture.width, picture.height));
  const canvas = document.createElement('canvas');
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((done, fail) => {
    canvas.toBlob((blob) => (blob === null ? fail(new Error('no picture')) : done(blob)), 'image/jpeg', quality);
  });
}

/** Keeps a new picture on the device; it is sent with the next errand. */
export async function takePhoto(
  declaration: Declaration,
  item: string,
  position: string | undefined,
  file: Blob,
): Promise<void> {
  const photo: WaitingPhoto = {
    id: uuid(),
    entryId: declaration.keptAs,
    item,
    position,
    blob: await shrinkPhoto(file),
  };
  await keepPhoto(photo);
  declaration.waitingPhotos.value = [...declaration.waitingPhotos.value, photo];
  declaration.photoFault.value = undefined;
}

/** Sends the pictures that wait. The same picture at the same place is kept once, so that a lost answer does no harm. */
export async function sendPhotos(declaration: Declaration): Promise<void> {
  const { token } = declaration.session;
  let isChanged = false;
  for (const { id, item, position, blob } of declaration.waitingPhotos.value) {
    const query = position === undefined ? { item } : { item, position };
    try {
      await call(
        addPhoto,
        { params: { entryId: declaration.entryId }, query, body: blob },
        { token, type: 'image/jpeg', timeoutMs: 60_000 },
      );
    } catch (error) {
      if (isTransient(error) || (error instanceof ApiProblem && error.status === 401)) throw error;
      declaration.photoFault.value = error instanceof Error ? error.message : String(error);
    }
    isChanged = true;
    await forget(declaration, id);
  }
  if (isChanged) await pull(declaration);
}

async function forget(declaration: Declaration, id: string): Promise<void> {
  await dropPhoto(id);
  declaration.waitingPhotos.value = declaration.waitingPhotos.value.filter((one) => one.id !== id);
}

export const forgetWaiting = forget;

/** @throws ApiProblem, Unreachable */
export async function dropSentPhoto(declaration: Declaration, photoId: string): Promise<void> {
  await call(removePhoto, { params: { photoId } }, { token: declaration.session.token });
  await pull(declaration);
}

const shown = new Map<string, Promise<string>>();

/** An address of a picture for this page only; it was fetched with the token. */
export function photoAddress(declaration: Declaration, photoId: string): Promise<string> {
  let address = shown.get(photoId);
  if (address === undefined) {
    address = call(getPhoto, { params: { photoId } }, { token: declaration.session.token }).then(({ body }) => {
      if (body === undefined) throw new Error('no picture');
      return URL.createObjectURL(body);
    });
    // One that failed is asked for again.
    address.catch(() => shown.delete(photoId));
    shown.set(photoId, address);
  }
  return address;
}

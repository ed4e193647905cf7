import { AwsClient } from 'aws4fetch';
import { assertContent, photoPath, type PhotoStore, PhotoStoreError } from './photo-store.ts';

/** An S3-compatible object store, addressed by path: `<endpoint>/<bucket>/<prefix>/ab/<hash>`. */
export interface Bucket {
  /** without a slash at its end */
  endpoint: string;
  bucket: string;
  /** without slashes at its ends; empty for none */
  prefix: string;
  region: string;
  accessKeyId: string;
  secretAccessKey: string;
}

const TIMEOUT_MS = 20_000;
const RETRIES = 2;

/**
 * Photos in an S3-compatible object store. Requests are signed (AWS Signature Version 4), the content by its hash, so
 * the store refuses bytes that changed on their way. Redirects are not followed. Failures of the store are tried again
 * twice.
 */
export function openPhotoBucket(bucket: Bucket): PhotoStore {
  const { accessKeyId, secretAccessKey, region } = bucket;
  const client = new AwsClient({ accessKeyId, secretAccessKey, region, service: 's3', retries: RETRIES });
  const root = [bucket.endpoint, bucket.bucket, bucket.prefix].filter((part) => part !== '').join('/');
  const ask = async (hash: string, init: RequestInit): Promise<Response> => {
    const url = `${root}/${photoPath(hash)}`;
    try {
      return await client.fetch(url, { ...init, redirect: 'error', signal: AbortSignal.timeout(TIMEOUT_MS) });
    } catch (error) {
      throw new PhotoStoreError('the object store does not answer', { cause: error });
    }
  };
  return {
    async put(hash, bytes) {
      const headers = { 'content-type': 'image/jpeg', 'x-amz-content-sha256': hash };
      const answer = await ask(hash, { method: 'PUT', body: new Uint8Array(bytes), headers });
      await answer.body?.cancel();
      if (!answer.ok) throw new PhotoStoreError(`the object store answered PUT with ${answer.status}`);
    },
    async get(hash) {
      const answer = await ask(hash, { method: 'GET' });
      if (answer.ok) return assertContent(hash, await bytesOf(answer));
      await answer.body?.cancel();
      if (answer.status === 404) return undefined;
      throw new PhotoStoreError(`the object store answered GET with ${answer.status}`);
    },
  };
}

async function bytesOf(answer: Response): Promise<Buffer> {
  try {
    return Buffer.from(await answer.arrayBuffer());
  } catch (error) {
    throw new PhotoStoreError('the object store broke off its answer', { cause: error });
  }
}

import { createHash, createHmac } from 'node:crypto';
import { createServer, type IncomingMessage, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';

const REGION = 'eu-test-1';
const KEYS = { accessKeyId: 'AKIDTEST', secretAccessKey: 'secret/of+tests' };

/** A fake of an S3-compatible object store: checks how requests are signed, keeps objects in memory. */
export interface FakeObjectStore {
  bucket: { endpoint: string; region: string; bucket: string; prefix: string } & typeof KEYS;
  /** by path, with the bucket */
  objects: Map<string, { bytes: Buffer; mediaType: string | undefined }>;
  /** what was asked, as `PUT /bucket/key` */
  asked: string[];
  /** the next requests get these statuses and change nothing */
  failNext: number[];
  close(): Promise<void>;
}

export async function startFakeObjectStore(): Promise<FakeObjectStore> {
  const objects: FakeObjectStore['objects'] = new Map();
  const asked: string[] = [];
  const failNext: number[] = [];
  const answer = (request: IncomingMessage, body: Buffer): { status: number; bytes?: Buffer } => {
    const path = request.url ?? '';
    asked.push(`${request.method} ${path}`);
    const failure = failNext.shift();
    if (failure !== undefined) return { status: failure };
    if (request.headers.authorization !== authorizationOf(request)) return { status: 403 };
    if (request.method === 'GET') {
      const object = objects.get(path);
      return object === undefined ? { status: 404 } : { status: 200, bytes: object.bytes };
    }
    if (request.method === 'DELETE') return { status: objects.delete(path) ? 204 : 404 };
    // As stores have it: a body without a length before it is refused.
    if (request.headers['content-length'] === undefined) return { status: 411 };
    const hash = createHash('sha256').update(body).digest('hex');
    if (request.method !== 'PUT' || request.headers['x-amz-content-sha256'] !== hash) return { status: 400 };
    objects.set(path, { bytes: body, mediaType: request.headers['content-type'] });
    return { status: 200 };
  };
  const server = createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      const { status, bytes } = answer(request, Buffer.concat(chunks));
      response.writeHead(status, status === 302 ? { location: 'http://127.0.0.1:9/elsewhere' } : {}).end(bytes);
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  const bucket = {
    endpoint: `http://127.0.0.1:${port}`,
    region: REGION,
    bucket: 'evidence',
    prefix: 'club/2026',
    ...KEYS,
  };
  return { bucket, objects, asked, failNext, close: () => close(server) };
}

function close(server: Server): Promise<void> {
  server.closeAllConnections();
  return new Promise((resolve) => {
    server.close(() => resolve());
  });
}

/**
 * The header that a request signed with our keys must carry, worked out from its parts as the published description of
 * AWS Signature Version 4 says ("Create a signed AWS API request", steps 1 to 5; from memory).
 */
function authorizationOf(request: IncomingMessage): string {
  const header = (name: string) => String(request.headers[name] ?? '');
  const signed = ['host', 'x-amz-content-sha256', 'x-amz-date'];
  const canonical = [
    request.method,
    request.url,
    '',
    ...signed.map((name) => `${name}:${header(name)}`),
    '',
    signed.join(';'),
    header('x-amz-content-sha256'),
  ].join('\n');
  const at = header('x-amz-date');
  const scope = [at.slice(0, 8), REGION, 's3', 'aws4_request'];
  const digest = createHash('sha256').update(canonical).digest('hex');
  const text = ['AWS4-HMAC-SHA256', at, scope.join('/'), digest].join('\n');
  const hmac = (key: string | Buffer, data: string) => createHmac('sha256', key).update(data).digest();
  const key = scope.reduce<string | Buffer>(hmac, `AWS4${KEYS.secretAccessKey}`);
  const signature = hmac(key, text).toString('hex');
  const credential = `${KEYS.accessKeyId}/${scope.join('/')}`;
  return `AWS4-HMAC-SHA256 Credential=${credential}, SignedHeaders=${signed.join(';')}, Signature=${signature}`;
}

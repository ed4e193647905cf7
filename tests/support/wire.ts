import { request } from 'node:http';
import { brotliDecompressSync, gunzipSync } from 'node:zlib';

export interface OnTheWire {
  status: number;
  headers: Readonly<Record<string, string | string[] | undefined>>;
  /** bytes of the body as they came */
  bytes: number;
  /** unpacked */
  text: string;
}

interface Sent {
  method?: string;
  headers?: Readonly<Record<string, string>>;
  body?: unknown;
}

/** Asks as a browser does and tells how many bytes of body came; other clients unpack and do not say. */
export function askOnTheWire(url: string, { method = 'GET', headers = {}, body }: Sent = {}): Promise<OnTheWire> {
  const sent = body === undefined ? {} : { 'content-type': 'application/json' };
  return new Promise((resolve, reject) => {
    const asked = request(
      url,
      { method, headers: { 'accept-encoding': 'gzip, deflate, br', ...sent, ...headers } },
      (answer) => {
        const pieces: Buffer[] = [];
        answer.on('data', (piece: Buffer) => pieces.push(piece));
        answer.on('error', reject);
        answer.on('end', () => {
          const packed = Buffer.concat(pieces);
          const { statusCode = 0, headers: got } = answer;
          resolve({
            status: statusCode,
            headers: got,
            bytes: packed.length,
            text: unpack(packed, got['content-encoding']),
          });
        });
      },
    );
    asked.on('error', reject);
    asked.end(body === undefined ? undefined : JSON.stringify(body));
  });
}

function unpack(packed: Buffer, coding: string | undefined): string {
  if (coding === 'br') return brotliDecompressSync(packed).toString();
  return (coding === 'gzip' ? gunzipSync(packed) : packed).toString();
}

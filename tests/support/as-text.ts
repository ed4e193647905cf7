/** supertest reads no body of a type it does not know. */
export function asText(answer: unknown, done: (error: Error | null, body: string) => void): void {
  const response = answer as NodeJS.ReadableStream;
  const chunks: Buffer[] = [];
  response.on('data', (chunk: Buffer) => chunks.push(chunk));
  response.on('end', () => done(null, Buffer.concat(chunks).toString('utf8')));
}

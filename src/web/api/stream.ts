import { ApiProblem, addressOf, problemIn, Unreachable } from './call.ts';
import { streamEvent } from './operations.ts';

interface StreamOptions {
  eventId: string;
  token: string;
  /** id of the last message that was seen */
  lastId: string | undefined;
  signal: AbortSignal;
}

/**
 * Opens the live stream of an event. Read with `fetch`, because `EventSource` cannot send the token in a header.
 *
 * @returns the text as it comes; it ends when the connection does
 * @throws ApiProblem when the server refuses
 * @throws Unreachable without an answer
 */
export async function openEventStream(options: StreamOptions): Promise<ReadableStream<string>> {
  const { eventId, token, lastId, signal } = options;
  const headers = new Headers({ authorization: `Bearer ${token}`, accept: 'text/event-stream' });
  if (lastId !== undefined) headers.set('last-event-id', lastId);
  const address = addressOf(streamEvent.path, { eventId }, undefined);
  const response = await fetch(address, { headers, cache: 'no-store', credentials: 'omit', signal }).catch(
    (error: unknown) => {
      throw new Unreachable(error);
    },
  );
  if (!response.ok) throw new ApiProblem(await problemIn(response), response);
  if (response.body === null) throw new Unreachable(new Error('no body'));
  return response.body.pipeThrough(new TextDecoderStream());
}

/** Problems of a request that is sent again; part of `PROBLEMS`. */
export const KEY_PROBLEMS = {
  'idempotency-key-busy': {
    status: 409,
    title: 'A request with this key has no answer yet',
    cause: 'A request with this Idempotency-Key is under way, or its server stopped before it could answer.',
    remedy:
      'Send it again in a moment. When `detail` says that it ended, look whether what it asked for is there, and use a new key if not.',
  },
  'shown-once': {
    status: 409,
    title: 'It was made, and its secret is shown once',
    cause: 'The first request with this Idempotency-Key made it. Its secret was in that answer and is stored nowhere.',
    remedy: 'Where that answer was lost, revoke or delete what was made, and make another one with a new key.',
  },
} as const satisfies Record<string, { status: number; title: string; cause: string; remedy: string }>;

/** Problems of asking for more than one may have; part of `PROBLEMS`. */
export const LIMIT_PROBLEMS = {
  'body-too-large': {
    status: 413,
    title: 'The body is too large',
    cause: 'The body is larger than this server accepts.',
    remedy: 'Send less in one request.',
  },
  'too-many-requests': {
    status: 429,
    title: 'Too many requests',
    cause: 'This caller has sent more requests than allowed in a minute.',
    remedy: 'Wait for the seconds in `Retry-After`.',
  },
  'too-much-at-once': {
    status: 429,
    title: 'Too much of yours is being worked on',
    cause: 'This caller has as much long work under way and waiting as one caller may have.',
    remedy: 'Wait for the answers to what you sent before, then for the seconds in `Retry-After`.',
  },
  'too-many-streams': {
    status: 429,
    title: 'Too many live streams',
    cause: 'This token has as many live streams open as it may.',
    remedy: 'Close one, or share one among your windows. Reading without the stream works as before.',
  },
  'headers-too-large': {
    status: 431,
    title: 'The headers are too large',
    cause: 'The request line or the headers are larger than this server accepts.',
    remedy: 'Send shorter headers and a shorter address.',
  },
} as const satisfies Record<string, { status: number; title: string; cause: string; remedy: string }>;

/** Problems that are ours and not the caller's; part of `PROBLEMS`. */
export const SERVER_PROBLEMS = {
  'internal-error': {
    status: 500,
    title: 'The server failed',
    cause: 'Something went wrong that is not your fault. Nothing of this request was kept.',
    remedy: 'Try again. If it stays, give the organizer the `requestId`.',
  },
  'database-unavailable': {
    status: 503,
    title: 'The server cannot reach its data',
    cause: 'The database does not answer, so nothing can be read or written. No car may be admitted on this answer.',
    remedy: 'Wait for the seconds in `Retry-After` and try again.',
  },
  'queue-unavailable': {
    status: 503,
    title: 'This worker cannot reach its queue',
    cause: 'Redis, or the database that carries the queue, does not answer. Jobs wait and none is lost.',
    remedy: 'Look at the queue of the settings (`REDIS_URL`). The worker goes on by itself when it answers again.',
  },
  'change-in-the-way': {
    status: 503,
    title: 'Another change was in the way',
    cause:
      'Somebody else changes the same thing at the same moment. It was tried again where that is safe. Nothing of this request was kept.',
    remedy:
      'Send the same request again after the seconds in `Retry-After`, with the same `Idempotency-Key` if it has one.',
  },
  'photo-store-unavailable': {
    status: 503,
    title: 'The store of the photos does not answer',
    cause: 'Photos lie in a store of their own, which cannot be reached or is full. Everything else works.',
    remedy: 'Wait for the seconds in `Retry-After` and send the same photo again: it is kept once.',
  },
  'photos-busy': {
    status: 503,
    title: 'Too many photos at once',
    cause: 'The server is reading as many photos as it may without making the gate wait.',
    remedy: 'Wait for the seconds in `Retry-After` and send the same photo again: it is kept once.',
  },
  'threads-busy': {
    status: 503,
    title: 'Too much is being checked',
    cause:
      'Long work runs beside the gate, so much at a time, and what waits did not get its turn. Nothing was changed.',
    remedy: 'Wait for the seconds in `Retry-After` and send the same again.',
  },
  'streams-full': {
    status: 503,
    title: 'No live stream is free',
    cause: 'This server serves as many live streams as it may. Everything else works.',
    remedy: 'Read at intervals instead, and try again after the seconds in `Retry-After`.',
  },
  'migrations-pending': {
    status: 503,
    title: 'The database is older than the server',
    cause: 'The database lacks migrations of this version of the server.',
    remedy: 'Let the server that starts apply them, or apply them by hand, and ask again.',
  },
  overloaded: {
    status: 503,
    title: 'The server has too much to do',
    cause:
      'More is asked of this server than it gets done. The gate goes on answering; nothing of this request was done.',
    remedy: 'Wait for the seconds in `Retry-After` and try again.',
  },
  stopping: {
    status: 503,
    title: 'The server is stopping',
    cause: 'The server is being restarted.',
    remedy: 'Try again in a few seconds.',
  },
} as const satisfies Record<string, { status: number; title: string; cause: string; remedy: string }>;

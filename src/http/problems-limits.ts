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

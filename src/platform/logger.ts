import pino, { type DestinationStream, type Logger as PinoLogger } from 'pino';
import pretty from 'pino-pretty';

export type Logger = PinoLogger;

export type LoggerOptions = {
  /** Least important level that is written: `fatal` to `trace`, or `silent`. */
  level: string;
  /** Where lines go; absent: standard output, readable on a terminal and JSON otherwise. */
  destination?: DestinationStream;
};

const SECRET_KEYS = [
  'authorization',
  'cookie',
  '["set-cookie"]',
  'token',
  'organizerToken',
  'password',
  'email',
  'phone',
];

/**
 * The one logger of the process. Secrets and personal data are removed wherever they may stand in a line: at the top,
 * one level down (`entrant.email`) and two levels down (`req.headers.authorization`).
 */
export function createLogger({ level, destination }: LoggerOptions): Logger {
  return pino(
    {
      level,
      base: null,
      timestamp: pino.stdTimeFunctions.isoTime,
      formatters: { level: (label) => ({ level: label }) },
      redact: { paths: redactedPaths(), censor: '[redacted]' },
      serializers: { error: plainError, err: plainError },
    },
    destination ?? standardOutput(),
  );
}

// Only what describes the error: drivers hang whole connections, and the rejected values, on theirs.
function plainError(error: unknown, depth = 0): unknown {
  if (!(error instanceof Error)) return error;
  const code = 'code' in error ? error.code : undefined;
  const cause = error.cause === undefined || depth > 3 ? undefined : plainError(error.cause, depth + 1);
  return { type: error.name, message: error.message, code, stack: error.stack, cause };
}

function redactedPaths(): string[] {
  return SECRET_KEYS.flatMap((key) => {
    const step = key.startsWith('[') ? key : `.${key}`;
    return [key, `*${step}`, `*.*${step}`];
  });
}

// Synchronous on purpose: the last lines before an exit must not be lost.
function standardOutput(): DestinationStream {
  if (process.stdout.isTTY) return pretty({ sync: true, translateTime: 'SYS:HH:MM:ss', ignore: 'pid,hostname' });
  return pino.destination({ fd: 1, sync: true });
}

/** Wraps a report so that it is made at most once in `milliseconds`: what repeats at every retry is said once. */
export function atMostEvery<A extends unknown[]>(milliseconds: number, report: (...args: A) => void) {
  let silentUntil = 0;
  return (...args: A): void => {
    const now = performance.now();
    if (now < silentUntil) return;
    silentUntil = now + milliseconds;
    report(...args);
  };
}

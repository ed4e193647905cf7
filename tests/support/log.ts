import { createLogger, type Logger } from '../../src/platform/logger.ts';

export type LogLine = Record<string, unknown> & { level: string; msg: string };

/** A logger whose lines a test can read. */
export function logLines(level = 'trace'): {
  log: Logger;
  lines: LogLine[];
  find(level: string, message: string): LogLine | undefined;
} {
  const lines: LogLine[] = [];
  const destination = { write: (text: string) => void lines.push(JSON.parse(text) as LogLine) };
  return {
    log: createLogger({ level, destination }),
    lines,
    find: (wanted, message) => lines.find((line) => line.level === wanted && line.msg === message),
  };
}

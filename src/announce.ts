import type { Logger } from './platform/logger.ts';

/** What a person who starts the server looks for: where it is, the token to begin with, the demo. */
export interface Announcement {
  /** where people reach it, without a path */
  address: string;
  /** where this process listens, without a path */
  listening: string;
  /** the token that this start made; shown this once */
  token: string | undefined;
  /** the demo, in lines; absent without `--demo` */
  demo?: string | undefined;
}

/** Says that the server is ready, once: on a terminal as one block, else as a line of the log, and the token past it. */
export function announce(log: Logger, said: Announcement): void {
  if (isTerminal()) process.stdout.write(block(said));
  else announceToLog(log, said);
}

/** Whether a person sees this output: then requests are not logged line by line, and the end is for reading. */
export function isTerminal(): boolean {
  return process.stdout.isTTY;
}

/** Prints the first token, past the logger, so that no log keeps it. */
export function printToken(token: string): void {
  process.stdout.write(`\n${tokenLine(token)}\n\n`);
}

function announceToLog(log: Logger, { address, listening, token }: Announcement): void {
  if (token !== undefined) printToken(token);
  log.info({ api: `${address}/v1`, docs: `${address}/docs`, listening }, 'Gridworthy is ready');
}

/** The block at the end of a start on a terminal. */
export function block({ address, listening, token, demo }: Announcement): string {
  const rule = '─'.repeat(78);
  return [
    '',
    rule,
    'Gridworthy is ready. Stop it with Ctrl-C.',
    '',
    `  Pages  ${address}/`,
    `  API    ${address}/v1   Documentation  ${address}/docs`,
    ...(address === listening ? [] : [`  This process listens at ${listening}`]),
    ...(token === undefined
      ? []
      : ['', `  ${tokenLine(token)}`, `  It opens the race office: put it behind ${address}/office#`]),
    ...(demo === undefined ? [] : [demo]),
    rule,
    '',
  ].join('\n');
}

const tokenLine = (token: string): string => `First organizer token (shown once, keep it): ${token}`;

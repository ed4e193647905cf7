const UNIQUE_VIOLATION = '23505';
const WRITE_CONFLICTS = new Set(['40001', '40P01', 'P2034']);
const LOCK_TIMEOUT = '55P03';

/**
 * Whether the database refused a second row for something that may exist once. Understands errors of the plain driver
 * and of Prisma, from model calls and from raw statements.
 *
 * @param name the constraint or unique index that must be the cause; absent: any
 */
export function isUniqueViolation(error: unknown, name?: string): boolean {
  for (const layer of layersOf(error)) {
    if (layer['code'] !== UNIQUE_VIOLATION && layer['originalCode'] !== UNIQUE_VIOLATION) continue;
    return name === undefined || constraintOf(layer) === name;
  }
  return false;
}

/**
 * Thrown by us where a transaction must be run again from its beginning, because what it locked is no longer what it is
 * about: to lock on would be against the order of locks. Counts as a write conflict.
 */
export class RunAgain extends Error {
  readonly code = '40001';
}

/** Whether the transaction lost against another one and may succeed when it is run again. */
export function isWriteConflict(error: unknown): boolean {
  return layersOf(error).some((layer) => codesOf(layer).some((code) => WRITE_CONFLICTS.has(code)));
}

/**
 * Why a statement was refused because of somebody else's change, and not for what it is: nothing was kept, and the same
 * again may succeed. `locked`: waited too long for a row that another holds; `collided`: lost against another change.
 * Undefined for everything else.
 */
export function findCollision(error: unknown): 'locked' | 'collided' | undefined {
  if (isWriteConflict(error)) return 'collided';
  return layersOf(error).some((layer) => codesOf(layer).includes(LOCK_TIMEOUT)) ? 'locked' : undefined;
}

const codesOf = (layer: Record<string, unknown>) => [String(layer['code']), String(layer['originalCode'])];

// Prisma wraps the driver's error: meta.driverAdapterError.cause has the code and the constraint.
function layersOf(error: unknown): Record<string, unknown>[] {
  const layers: Record<string, unknown>[] = [];
  const queue: unknown[] = [error];
  while (queue.length > 0 && layers.length < 10) {
    const next = queue.shift();
    if (!isRecord(next) || layers.includes(next)) continue;
    layers.push(next);
    queue.push(isRecord(next['meta']) ? next['meta']['driverAdapterError'] : undefined, next['cause']);
  }
  return layers;
}

function constraintOf(layer: Record<string, unknown>): string | undefined {
  const constraint = layer['constraint'];
  if (typeof constraint === 'string') return constraint;
  return isRecord(constraint) && typeof constraint['index'] === 'string' ? constraint['index'] : undefined;
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null;
}

const DOWN_CODES = new Set(
  (
    'ECONNREFUSED ECONNRESET EPIPE ETIMEDOUT ENOTFOUND ENOENT P1001 P1002 P1008 P1017 P2024 P2028 ' +
    '57P01 57P02 57P03 57014 53100 53200 53300 08000 08001 08003 08004 08006 25P03'
  ).split(' '),
);
/** How Prisma's adapter calls them, where an error of the driver has no code. */
const DOWN_KINDS = new Set(['ConnectionClosed', 'SocketTimeout', 'DatabaseNotReachable', 'TooManyConnections']);
const DOWN_MESSAGES = [
  'Connection terminated',
  'Server has closed the connection',
  'timeout exceeded when trying to connect',
  'Query read timeout',
  'Client has encountered a connection error',
  'Cannot use a pool after calling end',
  'Unable to start a transaction',
  "Can't reach database server",
];

/** Whether the database cannot be reached or did not answer in time: nothing was decided, trying again may help. */
export function isDatabaseDown(error: unknown): boolean {
  // Prisma reports some of these in words of its own that sound like it.
  if (findCollision(error) !== undefined) return false;
  return layersOf(error).some((layer) => {
    if (DOWN_CODES.has(String(layer['code'])) || DOWN_CODES.has(String(layer['originalCode']))) return true;
    if (DOWN_KINDS.has(String(layer['kind']))) return true;
    const { message } = layer;
    return typeof message === 'string' && DOWN_MESSAGES.some((known) => message.includes(known));
  });
}

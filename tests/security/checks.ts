import { parse as parseCsv } from 'csv-parse/sync';
import type { Json } from '../../src/features/service/document-routes.ts';
import type { ApiModel, Operation } from './api-model.ts';
import type { Sent } from './build-request.ts';

export interface Answer {
  status: number;
  headers: Readonly<Record<string, string | string[] | number | undefined>>;
  text: string;
  ms: number;
}

/** What is wrong with an answer. */
export interface Fault {
  kind: string;
  detail: string;
}

/** The slowest takes 3 s among fifteen others on a quiet machine, and many times that in a slow hour; what takes longer than this hangs. */
const MOST_MS = 30_000;
const PROBLEM = 'application/problem+json';
const INTERNAL =
  /\bat .{1,200}\.(ts|js|mjs):\d|node_modules|\b(SELECT|INSERT INTO|UPDATE|DELETE FROM)\s|prisma|PrismaClient|ECONNREFUSED|\bSQLSTATE\b|\/src\/(http|features|domain)\//;
/** A cell with which a spreadsheet program begins to calculate (OWASP, CSV Injection). */
const FORMULA = /^[=+\-@\t\r](?!\d+([.,]\d+)?$)/;

/** Holds an answer against the document and against what must hold of any answer. */
export function faultsOf(api: ApiModel, sent: Sent, answer: Answer, ownerOf: OwnerOf): Fault[] {
  const faults: Fault[] = [];
  const note = (kind: string, detail: string) => void faults.push({ kind, detail });
  if (answer.ms > MOST_MS) note('slow', `${Math.round(answer.ms)} ms`);
  checkStatus(api, sent, answer, note);
  checkHeaders(sent, answer, note);
  checkBody(api, sent, answer, note);
  checkAccess(sent, answer, ownerOf, note);
  checkRefusal(sent, answer, note);
  return faults;
}

type Note = (kind: string, detail: string) => void;
/** the entry that an id belongs to */
type OwnerOf = (name: string, id: string | number) => string | undefined;

const typeOf = ({ headers }: Answer) =>
  String(headers['content-type'] ?? '')
    .split(';')[0]
    ?.trim() ?? '';
const isSuccess = ({ status }: Answer) => status < 400;

/** The operation that an address and a method lead to, if it is another than was meant. */
function reached(api: ApiModel, sent: Sent): Operation | undefined {
  if (sent.method === sent.operation.method && sent.addressFits) return sent.operation;
  const path = sent.url.split('?')[0] ?? '';
  const method = sent.method === 'HEAD' ? 'GET' : sent.method;
  const matches = (operation: Operation) =>
    new RegExp(`^${operation.path.replaceAll('.', '\\.').replaceAll(/\{\w+\}/g, '[^/]+')}$`).test(path);
  const found = api.operations.filter((operation) => operation.method === method && matches(operation));
  return found.find(({ pathNames }) => pathNames.length === 0) ?? found[0];
}

function checkStatus(api: ApiModel, sent: Sent, answer: Answer, note: Note): void {
  const { status } = answer;
  const operation = reached(api, sent);
  if (status >= 500) {
    if (!isBusy(answer)) note('5xx', `${status}`);
  } else if (operation === undefined) checkNoOperation(sent, status, note);
  else {
    const declared = [...operation.responses.keys()];
    // What a path that is not well formed gets depends on how it is not; it must be a refusal.
    const allowed = sent.addressFits ? declared : [...declared, ...NO_OPERATION];
    if (!allowed.includes(status)) note('undeclared status', `${status}, declared are ${declared.join(' ')}`);
  }
}

const NO_OPERATION = [400, 404, 405, 413, 415];

/** To be told to come back later is no fault, if it is told so. */
function isBusy({ status, headers, text }: Answer): boolean {
  return status === 503 && headers['retry-after'] !== undefined && !text.includes('database-unavailable');
}

/** A method that an address does not have is refused as such; a body that cannot be read may be refused before. */
function checkNoOperation({ method, payload, headers, addressFits }: Sent, status: number, note: Note): void {
  const hasBody = payload !== undefined || headers['content-type'] !== undefined || method === 'QUERY';
  const allowed = addressFits && !hasBody ? [405] : NO_OPERATION.filter((one) => one !== 404 || !addressFits);
  if (!allowed.includes(status)) note('method', `${method} answers ${status}, not ${allowed.join(' or ')}`);
}

const ALWAYS: Readonly<Record<string, RegExp>> = {
  'content-security-policy': /default-src 'none'/,
  'x-content-type-options': /^nosniff$/,
  'x-frame-options': /^DENY$/,
  'referrer-policy': /^no-referrer$/,
  'x-request-id': /^[0-9a-f-]{36}$/,
};

/** Headers without which an answer of this status does not say what to do (RFC 9110, RFC 6585). */
const BY_STATUS: Readonly<Record<number, Readonly<Record<string, RegExp>>>> = {
  401: { 'www-authenticate': /^Bearer/ },
  405: { allow: /[A-Z]/ },
  412: { etag: /^(W\/)?"/ },
  428: { etag: /^(W\/)?"/ },
  429: { 'retry-after': /^\d+$/ },
  503: { 'retry-after': /^\d+$/ },
};

const NEVER = ['access-control-allow-origin', 'x-powered-by', 'server', 'set-cookie'];

function checkHeaders({ operation }: Sent, { status, headers }: Answer, note: Note): void {
  // What needs a token is for its holder only; what everybody may read may be kept by anybody.
  const kept = operation.roles === undefined ? {} : { 'cache-control': /no-store|no-cache|private/ };
  for (const [name, pattern] of Object.entries({ ...ALWAYS, ...BY_STATUS[status], ...kept })) {
    if (!pattern.test(String(headers[name] ?? ''))) note('header', `${name}: ${String(headers[name])}`);
  }
  for (const name of NEVER) if (headers[name] !== undefined) note('header', `${name}: ${String(headers[name])}`);
}

function checkBody(api: ApiModel, sent: Sent, answer: Answer, note: Note): void {
  if (sent.method === 'HEAD') {
    if (answer.text !== '') note('body', 'HEAD has one');
    return;
  }
  const text = withoutEcho(answer.text, sent);
  const internal = INTERNAL.exec(text)?.[0];
  if (internal !== undefined) note('leak', internal.slice(0, 120));
  if (sent.caller.token !== undefined && answer.text.includes(sent.caller.token))
    note('leak', 'the token of the caller');
  if (answer.status >= 400) checkProblem(api, answer, note);
  else checkSuccess(reached(api, sent), answer, note);
}

/** What the caller sent may stand in the answer; only what the server adds can be a leak. */
function withoutEcho(text: string, sent: Sent): string {
  return sent.addressFits && sent.url.length < 400 ? text.replaceAll(JSON.stringify(sent.url).slice(1, -1), '') : text;
}

function checkProblem(api: ApiModel, answer: Answer, note: Note): void {
  if (typeOf(answer) !== PROBLEM) note('content type', `${answer.status} with ${typeOf(answer) || 'none'}`);
  const body = parseJson(answer.text);
  if (!api.isProblem(body)) {
    note('schema', `problem: ${firstError(api.isProblem.errors)}`);
    return;
  }
  const { status, type, code } = body as { status: number; type: string; code: string };
  if (status !== answer.status) note('schema', `problem says ${status}, the answer is ${answer.status}`);
  if (!type.endsWith(`/problems/${code}`)) note('schema', `the type ${type} does not end with the code ${code}`);
}

function checkSuccess(operation: Operation | undefined, answer: Answer, note: Note): void {
  const content = operation?.responses.get(answer.status);
  if (content === undefined) return;
  if (content.size === 0) {
    if (answer.text !== '') note('body', `${answer.status} has one`);
    return;
  }
  const media = content.get(typeOf(answer));
  if (media === undefined) {
    note('content type', `${typeOf(answer) || 'none'}, declared are ${[...content.keys()].join(' ')}`);
  } else if (typeOf(answer) === 'application/json') {
    if (!media.validate(parseJson(answer.text))) note('schema', firstError(media.validate.errors));
  } else if (typeOf(answer) === 'text/csv') checkCsv(answer.text, note);
}

function checkCsv(text: string, note: Note): void {
  const rows = parseCsv(text, { bom: true, relaxColumnCount: true });
  const cell = rows.flat().find((one) => FORMULA.test(one));
  if (cell !== undefined) note('formula', JSON.stringify(cell.slice(0, 80)));
}

function checkAccess(sent: Sent, answer: Answer, ownerOf: OwnerOf, note: Note): void {
  const { roles } = sent.operation;
  // Another method at the same address, or an address that is none, is held against its own operation above.
  if (!isSuccess(answer) || roles === undefined || sent.method !== sent.operation.method || !sent.addressFits) return;
  const { role, name } = sent.caller;
  if (role === undefined) note('access', `${name} gets ${answer.status}`);
  else if (!roles.includes(role)) note('access', `${role} gets ${answer.status}, meant for ${roles.join(' ')}`);
  checkTenant(sent, answer, ownerOf, note);
}

function checkTenant({ caller: { entryId, name }, path }: Sent, answer: Answer, ownerOf: OwnerOf, note: Note): void {
  if (entryId === undefined) return;
  for (const [of, id] of Object.entries(path)) {
    const owner = ownerOf(of, id);
    if (owner !== undefined && owner !== entryId) {
      note('other tenant', `${name} gets ${answer.status} for ${of} ${id} of ${owner}`);
    }
  }
  for (const shown of answer.text.matchAll(/"entryId":"([^"]+)"/g)) {
    if (shown[1] !== entryId) note('other tenant', `${name} is shown ${shown[1]}`);
  }
}

/** What does not fit the schema of the document must be refused before anything else is decided. */
function checkRefusal(sent: Sent, answer: Answer, note: Note): void {
  if (sent.method !== sent.operation.method) return;
  const decided = isSuccess(answer) || [409, 412, 422, 428].includes(answer.status);
  if (sent.bodyFits === false && decided) note('accepted', `${answer.status} for a body that does not fit its schema`);
  // Probes of machines may add what they like.
  if (sent.strangeQuery && decided && sent.operation.roles !== undefined)
    note('accepted', `${answer.status} for a query key that is not documented`);
}

export function parseJson(text: string): unknown {
  try {
    return JSON.parse(text) as Json;
  } catch {
    // Whoever reads it then says that it has the wrong form.
    return undefined;
  }
}

function firstError(errors: { instancePath: string; message?: string; params?: unknown }[] | null | undefined): string {
  const [error] = errors ?? [];
  return error === undefined
    ? 'does not fit'
    : `${error.instancePath || '/'} ${error.message} ${JSON.stringify(error.params).slice(0, 100)}`;
}

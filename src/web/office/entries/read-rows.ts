import { call } from '../../api/call.ts';
import {
  type EntryView,
  type GateList,
  getResolvedRules,
  listEntries,
  listGate,
  listInspections,
} from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';
import type { Status } from '../parts/status.tsx';

export interface Filter {
  carNumber: string;
  runGroupId: string;
  status: Status | '';
}

/** One line of the list, whichever way it was read. */
export interface Row {
  entryId: string;
  carNumber: string;
  runGroupId: string;
  runGroup: string;
  vehicle: string;
  status: Status;
  reason: string;
  /** only organizers are told */
  entrant?: string;
}

export interface Rows {
  rows: readonly Row[];
  next: string | undefined;
}

const PAGE = 50;

/**
 * One page of entries. An organizer reads the entries themselves; a chief, and whoever asks for a status, reads the
 * gate's list, which is always of all.
 */
export async function readRows(office: OfficeContext, filter: Filter, cursor: string | undefined): Promise<Rows> {
  const { eventId, token, session } = office;
  if (session.role !== 'organizer' || filter.status !== '') {
    const { body } = await call(listGate, { params: { eventId } }, { token });
    return { rows: (body?.entries ?? []).filter((entry) => fits(entry, filter)).map(fromGate), next: undefined };
  }
  const { carNumber, runGroupId } = filter;
  const query = {
    limit: PAGE,
    ...(carNumber === '' ? {} : { carNumber }),
    ...(runGroupId === '' ? {} : { runGroupId }),
    ...(cursor === undefined ? {} : { cursor }),
  };
  const { body } = await call(listEntries, { params: { eventId }, query }, { token });
  return { rows: body.entries.map(fromEntry), next: body.next };
}

type GateEntry = GateList['entries'][number];

const fits = (entry: GateEntry, { carNumber, runGroupId, status }: Filter): boolean =>
  (carNumber === '' || entry.carNumber.toUpperCase() === carNumber.toUpperCase()) &&
  (runGroupId === '' || entry.runGroupId === runGroupId) &&
  (status === '' || entry.status === status);

export function fromGate({
  entryId,
  carNumber,
  runGroupId,
  runGroup,
  vehicle,
  colour,
  status,
  reason,
}: GateEntry): Row {
  return { entryId, carNumber, runGroupId, runGroup, vehicle: described(vehicle, colour), status, reason };
}

function fromEntry({ entryId, carNumber, runGroupId, runGroup, vehicle, clearance, entrant }: EntryView): Row {
  const { status, reason } = clearance;
  const about = described(vehicle['description'], vehicle['colour']);
  return { entryId, carNumber, runGroupId, runGroup, vehicle: about, status, reason, entrant: entrant.name };
}

const described = (...parts: readonly unknown[]): string => parts.filter((part) => typeof part === 'string').join(', ');

/** A rule that an exception can be made to; `wrong`: this car does not meet it now. */
export interface Choice {
  ruleId: string;
  title: string;
  wrong: boolean;
}

/** The rules of an entry: those that its newest declaration does not meet first, then the others. */
export async function readChoices(
  { token }: OfficeContext,
  entry: EntryView,
  signal: AbortSignal,
): Promise<readonly Choice[]> {
  const options = { token, signal };
  const { entryId, runGroupId } = entry;
  const [inspections, resolved] = await Promise.all([
    call(listInspections, { params: { entryId } }, options),
    call(getResolvedRules, { params: { runGroupId } }, options),
  ]);
  const newest = inspections.body.inspections.toSorted((a, b) => b.revision - a.revision)[0];
  const choices = new Map<string, Choice>();
  for (const { ruleId, title, result, counts } of newest?.findings ?? []) {
    if (result !== 'met' && counts !== 'no') choices.set(ruleId, { ruleId, title, wrong: true });
  }
  for (const { rule } of resolved.body.rules) {
    const { id, title } = rule;
    if (typeof id !== 'string' || choices.has(id)) continue;
    choices.set(id, { ruleId: id, title: typeof title === 'string' ? title : id, wrong: false });
  }
  return [...choices.values()];
}

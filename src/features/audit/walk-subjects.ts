import { applyCarEvent, type CarEvent, type CarFacts, NOTHING_WRONG } from '../../domain/car-facts.ts';
import { applyClearanceEvent, type ClearanceEvent, type ClearanceFacts, NOTHING_YET } from '../../domain/clearance.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { chainHash, type ChainedRow, type Subject } from '../../records/history.ts';
import type { AuditFault } from './fault.ts';
import type { AuditCar, AuditEntry, AuditHead, AuditRow } from './store.ts';

/** What reading the rows of a subject in order comes to. */
interface Walked {
  seq: number;
  hash: string;
  facts: ClearanceFacts;
  car: CarFacts;
}

const START: Walked = { seq: 0, hash: '', facts: NOTHING_YET, car: NOTHING_WRONG };

/** Reads the rows of all subjects of an event, those of each in their order, and says what does not fit. */
export interface SubjectWalk {
  next(row: AuditRow): AuditFault[];
  /** after the last row: what does not fit what the database says of the entries, the cars and the event itself */
  end(entries: readonly AuditEntry[], cars: readonly AuditCar[], event: AuditHead): AuditFault[];
}

/** Each row must have its hash and follow the one before it of the same subject. */
export function walkSubjects(carOf: ReadonlyMap<string, string>): SubjectWalk {
  const walked = new Map<string, Walked>();
  return {
    next(row) {
      const key = row.entryId ?? row.carId ?? row.eventId;
      const before = walked.get(key) ?? START;
      walked.set(key, { seq: row.seq, hash: row.hash, ...folded(row, before) });
      const fault = rowFault(row, before);
      return fault === undefined ? [] : [{ ...fault, ...namesOf(row, carOf) }];
    },
    end: (entries, cars, event) => [
      ...eventFaults(event, walked.get(event.eventId) ?? START),
      ...entries.flatMap((entry) => entryFaults(entry, walked.get(entry.entryId) ?? START)),
      ...cars.flatMap((car) => carFaults(car, walked.get(car.carId) ?? START)),
    ],
  };
}

function folded({ entryId, carId, data }: AuditRow, { facts, car }: Walked): Pick<Walked, 'facts' | 'car'> {
  // written by us only, of the kind that its subject has
  const { event } = data as { event?: unknown };
  if (event === undefined) return { facts, car };
  if (entryId !== null) return { facts: applyClearanceEvent(facts, event as ClearanceEvent), car };
  return { facts, car: carId === null ? car : applyCarEvent(car, event as CarEvent) };
}

function rowFault(row: AuditRow, before: Walked): AuditFault | undefined {
  const { seq, action, prevHash } = row;
  if (chainHash(contentOf(row)) !== row.hash) {
    return { kind: 'row-changed', seq, detail: `Row ${seq} (${action}) is not as it was written.` };
  }
  if (seq === before.seq + 1 && prevHash === before.hash) return undefined;
  const detail = `Row ${seq} does not follow row ${before.seq}: a row is missing, added or moved.`;
  return { kind: chainKind(row), seq, detail };
}

/** What the hash of a row covers. */
export function contentOf(row: AuditRow): ChainedRow {
  const { seq, action, actorId, actorRole, at, data, prevHash } = row;
  return { ...subjectOf(row), seq, action, actorId, actorRole, at: at.toISOString(), data, prevHash };
}

function subjectOf({ entryId, carId, eventId }: AuditRow): Subject {
  if (entryId !== null) return { entryId };
  return carId === null ? { eventId } : { carId };
}

function chainKind({ entryId, carId }: AuditRow): AuditFault['kind'] {
  if (entryId !== null) return 'entry-chain-broken';
  return carId === null ? 'event-chain-broken' : 'car-chain-broken';
}

/** The entry or car that a row is about, for a person. */
export function namesOf({ entryId, carId }: AuditRow, carOf: ReadonlyMap<string, string>): Partial<AuditFault> {
  const carNumber = entryId === null ? undefined : carOf.get(entryId);
  return {
    ...(entryId === null ? {} : { entryId }),
    ...(carId === null ? {} : { carId }),
    ...(carNumber === undefined ? {} : { carNumber }),
  };
}

function entryFaults(entry: AuditEntry, walked: Walked): AuditFault[] {
  const { entryId, carNumber } = entry;
  const faults: AuditFault[] = [];
  if (walked.seq !== entry.historySeq || walked.hash !== entry.historyHash) {
    const detail = `The history ends at row ${walked.seq}, the entry says ${entry.historySeq}.`;
    faults.push({ kind: 'entry-chain-broken', entryId, carNumber, seq: walked.seq, detail });
  }
  // stored facts have been through JSON, which drops what is undefined
  if (canonicalJson(JSON.parse(JSON.stringify(walked.facts))) !== canonicalJson(entry.facts)) {
    const detail = 'What the gate answers from is not what the history comes to.';
    faults.push({ kind: 'clearance-differs', entryId, carNumber, detail });
  }
  return faults;
}

function carFaults({ carId, facts, historySeq, historyHash }: AuditCar, walked: Walked): AuditFault[] {
  const faults: AuditFault[] = [];
  if (walked.seq !== historySeq || walked.hash !== historyHash) {
    const detail = `The history of the car ends at row ${walked.seq}, the car says ${historySeq}.`;
    faults.push({ kind: 'car-chain-broken', carId, seq: walked.seq, detail });
  }
  if (canonicalJson(JSON.parse(JSON.stringify(walked.car))) !== canonicalJson(facts)) {
    const detail = 'What the gate answers from about the car is not what its history comes to.';
    faults.push({ kind: 'clearance-differs', carId, detail });
  }
  return faults;
}

function eventFaults({ historySeq, historyHash }: AuditHead, walked: Walked): AuditFault[] {
  if (walked.seq === historySeq && walked.hash === historyHash) return [];
  const detail = `The history of the event itself ends at row ${walked.seq}, the event says ${historySeq}.`;
  return [{ kind: 'event-chain-broken', seq: walked.seq, detail }];
}

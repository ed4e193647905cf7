/** When something was asked and when it was answered, on the one clock of the harness (milliseconds). */
export interface Span {
  from: number;
  /** `Infinity` when no answer came: it may happen at any later time */
  to: number;
}

export type OperationKind = 'submit' | 'claim' | 'renew' | 'put-back' | 'sign-off' | 'hold' | 'lift' | 'import';

/** What a client asked for and what it was told. Tries with one Idempotency-Key are one operation. */
export interface Operation extends Span {
  kind: OperationKind;
  client: string;
  /** the text by which its effect is found: an Idempotency-Key or a reason; empty where there is none */
  marker: string;
  entryId: string;
  /**
   * `ok`: acknowledged. `refused`: told that it did not happen. `unknown`: neither, so both are right.
   */
  outcome: 'ok' | 'refused' | 'unknown';
  status: number;
  intent: Intent;
  /** ids in the answer, where it was `ok` */
  ids: Readonly<Record<string, string>>;
}

/** The part of what was asked that decides the clearance, and the claim that it was asked for. */
export interface Intent {
  thin?: boolean;
  decision?: 'accept' | 'accept-with-conditions' | 'refuse';
  requireReinspection?: boolean;
  claimId?: string;
  holdId?: string;
  /** numbers of the cars in an imported file */
  carNumbers?: readonly string[];
}

/** One lookup at the gate that was answered with 200. `asOf` is the server's instant. */
export interface Lookup extends Span {
  entryId: string;
  carNumber: string;
  admit: boolean;
  status: string;
  asOf: string;
}

/** Everything that happened in a run, as the clients saw it. */
export interface Recorded {
  operations: Operation[];
  lookups: Lookup[];
  /** lookups without a usable answer: at the gate that is a no */
  unanswered: number;
  /** answers that no caller should ever get, whatever is broken */
  absurd: string[];
  /** the times at which leases were ended by moving the clock */
  leaseEnds: Span[];
  /** the times in which the database crashed */
  crashes: Span[];
  /** statuses of all answers, retries included */
  statuses: Map<number, number>;
}

export const newRecord = (): Recorded => ({
  operations: [],
  lookups: [],
  unanswered: 0,
  absurd: [],
  leaseEnds: [],
  crashes: [],
  statuses: new Map(),
});

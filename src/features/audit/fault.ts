/** Kinds of what can be wrong in an event's records. */
export const FAULT_KINDS = [
  'row-changed',
  'row-missing',
  'row-not-sealed',
  'leaf-differs',
  'entry-chain-broken',
  'car-chain-broken',
  'event-chain-broken',
  'tree-differs',
  'clearance-differs',
  'head-differs',
] as const;

/** Something in an event's records that does not fit its history. */
export interface AuditFault {
  kind: (typeof FAULT_KINDS)[number];
  carNumber?: string;
  entryId?: string;
  /** the car in the event, where a row is about it */
  carId?: string;
  /** number of the row in the history of its entry or car, or of the event */
  seq?: number;
  detail: string;
}

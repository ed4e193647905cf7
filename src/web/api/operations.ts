// Generated from openapi.json by `npm run openapi:generate`; do not edit.

import type { Operation } from './operation.ts';

export type Alive = {
  /** The process answers */
  status: "ok";
};

/** What an answer may be */
export type AnswerType = {
  kind: "number";
  /** Unit of a bare number; other units of its dimension are converted */
  unit: string;
  /** Impossible below this, in `unit` */
  min: number;
  /** Impossible above this, in `unit` */
  max: number;
  /** Decimals that are kept */
  decimals: number;
} | {
  kind: "choice";
  /** The answers to choose from */
  options: readonly string[];
} | {
  kind: "choices";
  /** The answers to choose from */
  options: readonly string[];
} | {
  kind: "confirm";
} | {
  kind: "yes-no";
} | {
  kind: "date";
} | {
  kind: "text";
  /** Most characters */
  maxLength: number;
  /** Form of the text */
  pattern?: {
  /** Regular expression that must match all of it */
  source: string;
  /** The same in words */
  says: string;
};
} | ({
  kind: "fields";
  /** The named parts */
  fields: Readonly<Record<string, {
  /** What this part may be */
  type: {
  kind: "number";
  /** Unit of a bare number; other units of its dimension are converted */
  unit: string;
  /** Impossible below this, in `unit` */
  min: number;
  /** Impossible above this, in `unit` */
  max: number;
  /** Decimals that are kept */
  decimals: number;
} | {
  kind: "choice";
  /** The answers to choose from */
  options: readonly string[];
} | {
  kind: "choices";
  /** The answers to choose from */
  options: readonly string[];
} | {
  kind: "confirm";
} | {
  kind: "yes-no";
} | {
  kind: "date";
} | {
  kind: "text";
  /** Most characters */
  maxLength: number;
  /** Form of the text */
  pattern?: {
  /** Regular expression that must match all of it */
  source: string;
  /** The same in words */
  says: string;
};
};
  /** Whether it must be given with the others */
  required: boolean;
  /** What it is */
  label: string;
}>>;
});

export type AppliesWhen = {
  /** Bodies it is asked for */
  body?: readonly string[];
  /** Powertrains it is asked for */
  powertrain?: readonly string[];
  /** Sumps it is asked for */
  sump?: readonly string[];
  /** Restraints it is asked for */
  restraint?: readonly string[];
  /** Ways of cooling it is asked for */
  cooling?: readonly string[];
  /** Only at axles with these calipers */
  caliper?: string;
  /** Only at axles with these rotors */
  rotor?: string;
  /** Only at bushings of these types */
  bushing?: readonly string[];
  /** Only with (without) dampers that are rebuilt */
  rebuildableDampers?: boolean;
  /** Only with (without) a hydraulic clutch */
  clutchHydraulic?: boolean;
  /** Only with (without) a differential of its own */
  separateDifferential?: boolean;
  /** Only with (without) a fuel cell */
  fuelCell?: boolean;
};

export type Audit = {
  /** UUID */
  eventId: string;
  /** Whether everything fits */
  intact: boolean;
  /** History rows read */
  rows: number;
  /** Rows that are leaves of the tree */
  sealed: number;
  /** Rows after them that wait to be sealed, for a moment after they were written */
  unsealed: number;
  /** Entries held against them */
  entries: number;
  /** Note it down outside of this server: with it a later check sees whether the past was changed */
  head: {
  /** Rows of the event that are sealed */
  seq: number;
  /** Root of the Merkle tree over them (RFC 9162, SHA-256), hex; empty when there are none */
  hash: string;
};
  /** The newest head that the server signed; null before the first */
  signedHead: {
  /** Rows under it */
  size: number;
  /** Root of the tree over them, hex */
  root: string;
  /** When it was signed */
  at: string;
  /** The head as a compact JWS */
  jws: string;
} | null;
  /** At most 200 */
  faults: readonly ({
  /** What does not fit */
  kind: "row-changed" | "row-missing" | "row-not-sealed" | "leaf-differs" | "entry-chain-broken" | "car-chain-broken" | "event-chain-broken" | "tree-differs" | "clearance-differs" | "head-differs";
  /** The car */
  carNumber?: string;
  /** Its entry */
  entryId?: string;
  /** The car in the event, where the row is about it in all its entries */
  carId?: string;
  /** Number of the row in the history of the entry or car, or of the event */
  seq?: number;
  /** In words */
  detail: string;
})[];
};

export type BindTokenInput = {
  /** The events it is for, 1 to 50. It works only there, until the end of the day after each */
  eventIds: readonly string[];
};

export type CalculationAssumption = {
  /** What is assumed; where it is a value of the body, its name there */
  name: string;
  /** The value with its unit, or the simplification in words */
  value: string;
  standing: Standing;
};

export type CalculationList = {
  /** All computations */
  calculations: readonly {
  /** Last part of the address */
  name: string;
  /** Heading */
  title: string;
  /** What goes in and what comes out */
  summary: string;
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** What it answers in; the first unless `Accept` asks for another */
  mediaTypes: readonly string[];
  /** How to ask it */
  operation: {
  /** In the API document */
  operationId: string;
  /** HTTP method */
  method: string;
  /** Address to send the body to */
  href: string;
  /** Page of this server that describes body and result */
  documentation: string;
};
  /** A body that works */
  example: Readonly<Record<string, unknown>>;
}[];
  /** Belongs on everything that shows a result */
  caution: string;
};

export type CalculationSource = {
  /** What it is, and what was taken from it */
  title: string;
  standing: Standing;
};

export type CalculationStep = {
  /** What is worked out */
  what: string;
  /** In symbols or words */
  formula: string;
  /** The same with numbers and units put in */
  numbers: string;
  /** What comes out, with its unit */
  result: string;
};

export type Catalogue = {
  /** Version of the catalogue */
  version: number;
  /** In the order of forms */
  areas: readonly ("engine" | "brake-hydraulics" | "brake-hardware" | "driveline" | "suspension-steering" | "wheels-tyres" | "cooling" | "body-safety" | "electric" | "setup" | "papers")[];
  /** Position keys of each scheme, in order */
  positionSchemes: Readonly<Record<string, readonly string[]>>;
  /** Units of each dimension; they convert into each other */
  units: Readonly<Record<string, readonly string[]>>;
  /** In the order of forms */
  items: readonly CatalogueItem[];
  /** Belongs on everything that shows a verdict */
  caution: string;
};

export type CatalogueItem = {
  /** Stable name; answers and rules use it */
  key: string;
  /** Area of the car */
  area: "engine" | "brake-hydraulics" | "brake-hardware" | "driveline" | "suspension-steering" | "wheels-tyres" | "cooling" | "body-safety" | "electric" | "setup" | "papers";
  /** The question */
  label: string;
  /** How to look or measure */
  help: string;
  answer: AnswerType;
  /** Where on the car it is asked; absent: once for the car */
  positionScheme?: string;
  /** Keys of a positioned answer, before the vehicle is known */
  positions?: readonly string[];
  /** `both`: declared, then measured again at the line */
  answeredBy: "entrant" | "inspector" | "both";
  /** All must hold; what the vehicle record leaves open is asked */
  appliesWhen?: AppliesWhen;
  /** Read before doing this check */
  cautions: readonly string[];
};

export type ChangedClearance = {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** What the gate says now */
  clearance: ClearanceView;
};

export type ClaimTicketInput = {
  /** Absent: the next car */
  carNumber?: string;
  /** Which entry of a shared car; absent: the one whose turn is first */
  runGroupId?: string;
  /** Absent: as the server is set, 15 unless told */
  leaseMinutes?: number;
};

export type ClaimView = {
  /** UUID */
  claimId: string;
  /** UUID */
  ticketId: string;
  /** UUID */
  entryId: string;
  /** UUID */
  inspectionId: string;
  /** Exact text */
  carNumber: string;
  /** Name of the run group */
  runGroup: string;
  /** Description of the car, with its colour if known */
  vehicle: string;
  /** Revision of the declaration */
  revision: number;
  /** `barred`: not on track; `to-inspect`: the line must look; `clean`: nothing to look at beyond the usual */
  verdict: "barred" | "to-inspect" | "clean";
  /** What the declaration is judged to be, with the concessions of today */
  findings: readonly Finding[];
  /** First what the car was refused for, then what the rules ask to look at, then what the line looks at on every car */
  pointsToCheck: readonly ({
  /** Catalogue key */
  item: string;
  /** Where on the car */
  position?: string;
  /** What to look at */
  label: string;
  /** Why it is on the list */
  why: string;
  /** `refused`: the car was refused for it, and it must be checked to accept; `rule`: a finding asks for it; `felt`: a symptom points at it; `usual`: looked at on every car */
  asked: "refused" | "rule" | "felt" | "usual";
  /** The finding that asks for it; it must be checked to accept */
  ruleId?: string;
  /** What the entrant declared */
  declared?: Readonly<Record<string, unknown>>;
  /** Done for another entry of the same car at this event; never for points about the driver */
  doneFor?: {
  /** Run group of the entry for which it was done */
  runGroup: string;
  /** Who looked */
  by: string;
  /** When that entry was signed off */
  at: string;
  /** What was measured; it wins over what is declared here */
  value?: unknown;
  /** What was seen, where nothing was measured */
  result?: "ok";
  /** It need not be done again; `false`: by the rules and limits of this entry it is open */
  counts: boolean;
};
})[];
  /** Refusals of this car that stand, newest first */
  refusals: readonly {
  /** Where the car was refused */
  runGroup: string;
  /** What the driver was told */
  note: string;
}[];
  /** Photos of this car, oldest first */
  photos: readonly {
  /** The picture is at `/v1/photos/{photoId}` */
  photoId: string;
  /** Catalogue key */
  item: string;
  /** Where on the car */
  position?: string;
}[];
  /** Exceptions in force; what they ask for becomes a condition */
  concessions: readonly ConcessionInForce[];
  /** Set on a car with 3 or more concessions in force: look at it as a whole */
  manyConcessions?: true;
  /** Length of the lease */
  leaseMinutes: number;
  /** Renew before this instant, or the ticket is free for others */
  expiresAt: string;
  /** To be shown with it */
  caution: string;
};

export type ClearanceView = {
  /** Whether the gate lets the car onto the track now */
  admit: boolean;
  /** Status of the clearance */
  status: "clear" | "clear-with-conditions" | "no-declaration" | "barred" | "in-line" | "refused" | "held" | "expired" | "withdrawn";
  /** One plain sentence */
  reason: string;
  /** Until when `admit: true` holds if nothing else happens */
  validUntil: string | null;
  /** Conditions still open */
  conditions: readonly {
  /** Id of the condition */
  id: string;
  /** What must be done */
  text: string;
  /** Instant by which it must be done; past it the car is held */
  dueAt?: string;
}[];
};

export type CompleteConditionInput = {
  /** What was found, for example the torque measured */
  note?: string;
};

export type Concession = {
  /** UUID */
  concessionId: string;
  /** UUID */
  entryId: string;
  /** The one rule it covers */
  ruleId: string;
  /** UUID */
  ruleSetId: string;
  /** The published version it was granted for */
  ruleSetVersion: number;
  /** Whether it covers the rule in later versions of the rule set too */
  coversLaterVersions: boolean;
  /** Only `in-force` counts. `awaiting-approval`: the rule is safety-critical and a second person must approve; `not-covering`: the entry is judged by another version, or by a rule that has become safety-critical since */
  state: "awaiting-approval" | "in-force" | "expired" | "revoked" | "not-covering";
  /** Why this car may run all the same */
  reason: string;
  /** What it asks for */
  condition?: string;
  /** Category of the rule, which limits how long it may last */
  category?: string;
  /** Instant, RFC 3339 in UTC */
  expiresAt: string;
  /** The chief inspector who granted it */
  grantedBy: string;
  /** Instant, RFC 3339 in UTC */
  grantedAt: string;
  /** Whether it counts only once somebody else has approved it */
  needsSecondPerson: boolean;
  /** The second person */
  approvedBy?: string;
  /** Instant, RFC 3339 in UTC */
  approvedAt?: string;
  /** Who took it back */
  revokedBy?: string;
  /** Instant, RFC 3339 in UTC */
  revokedAt?: string;
  /** Why it was taken back */
  revokeReason?: string;
};

export type ConcessionInForce = {
  /** UUID */
  concessionId: string;
  /** The one rule it covers */
  ruleId: string;
  /** What the rule judges */
  title: string;
  /** Why this car may run all the same */
  reason: string;
  /** From this instant on the rule counts again */
  expiresAt: string;
  /** What it asks for */
  condition?: string;
};

export type ConcessionView = {
  /** UUID */
  concessionId: string;
  /** UUID */
  entryId: string;
  /** The one rule it covers */
  ruleId: string;
  /** UUID */
  ruleSetId: string;
  /** The published version it was granted for */
  ruleSetVersion: number;
  /** Whether it covers the rule in later versions of the rule set too */
  coversLaterVersions: boolean;
  /** Only `in-force` counts. `awaiting-approval`: the rule is safety-critical and a second person must approve; `not-covering`: the entry is judged by another version, or by a rule that has become safety-critical since */
  state: "awaiting-approval" | "in-force" | "expired" | "revoked" | "not-covering";
  /** Why this car may run all the same */
  reason: string;
  /** What it asks for */
  condition?: string;
  /** Category of the rule, which limits how long it may last */
  category?: string;
  /** Instant, RFC 3339 in UTC */
  expiresAt: string;
  /** The chief inspector who granted it */
  grantedBy: string;
  /** Instant, RFC 3339 in UTC */
  grantedAt: string;
  /** Whether it counts only once somebody else has approved it */
  needsSecondPerson: boolean;
  /** The second person */
  approvedBy?: string;
  /** Instant, RFC 3339 in UTC */
  approvedAt?: string;
  /** Who took it back */
  revokedBy?: string;
  /** Instant, RFC 3339 in UTC */
  revokedAt?: string;
  /** Why it was taken back */
  revokeReason?: string;
  /** Exact text */
  carNumber: string;
  /** What the gate says now */
  clearance: ClearanceView;
};

export type ContradictionList = {
  /** In the order they were uploaded */
  contradictions: readonly ({
  /** UUID that the device gave this check */
  clientId: string;
  /** What the marshal typed */
  carNumber: string;
  /** The run group asked for, if one was */
  runGroupId?: string;
  /** When, by the clock of the device */
  askedAt: string;
  /** Whose device it was */
  askedBy: string;
  /** What the device answered */
  admit: boolean;
  /** What the device answered; `cannot-tell` when its list was of no use */
  status: "clear" | "clear-with-conditions" | "no-declaration" | "barred" | "in-line" | "refused" | "held" | "expired" | "withdrawn" | "unknown" | "cannot-tell";
  /** `seq` of the list it answered from */
  snapshotSeq: number;
  /** When the server learnt of it */
  uploadedAt: string;
  /** What the server knew at that time, with both times; or what is odd about the clock */
  contradicts: string;
})[];
  /** `cursor` of the next page; absent on the last one */
  next?: string;
};

export type CreateEnrolmentInput = {
  /** What the token may do */
  role: "organizer" | "chief" | "inspector" | "marshal";
  /** The person or device the token is for; for people their name as on entries */
  holder: string;
  /** The events it is for, 1 to 50. It works only there, until the end of the day after each */
  eventIds?: readonly string[];
  /** How long the code can be redeemed; 15 unless told */
  minutes?: number;
};

export type CreateEntryInput = {
  /** Exact text of 1 to 4 letters or digits; `7`, `07` and `007` are three cars */
  carNumber: string;
  /** A run group of the event */
  runGroupId: string;
  /** Who enters the car, and how to reach them */
  entrant: {
  /** Who enters the car */
  name: string;
  /** The person's id in a list of the organizer's own, such as a licence number: the same person, the same id */
  personId?: string;
  /** For messages about this entry; seen by organizers and the entrant */
  email?: string;
  /** Seen by organizers and the entrant */
  phone?: string;
};
  /** Everybody named on the entry; none of them may sign the car off */
  people?: readonly ({
  /** Name */
  name: string;
  /** What the person does with this car */
  role: "driver" | "crew" | "preparer";
  /** The person's id in a list of the organizer's own, such as a licence number: the same person, the same id */
  personId?: string;
})[];
  /** The record of the car; leave it out to share a known car */
  vehicle?: VehicleInput;
  /** A vehicle that is known already, for example from an earlier event */
  vehicleId?: string;
};

export type CreateRuleSetInput = {
  /** Name in lists */
  name: string;
  /** The rule set; it need not be complete yet. Absent: an empty one */
  document?: Readonly<Record<string, unknown>>;
};

export type CreatedWebhook = {
  /** UUID */
  webhookId: string;
  /** Where messages are posted */
  url: string;
  /** What is told */
  types: readonly string[];
  /** Only messages of this event; absent: of all events */
  eventId?: string;
  /** What it is for */
  description?: string;
  /** Whether messages are sent */
  enabled: boolean;
  /** Why it sends nothing; absent while it is enabled */
  disabledReason?: string;
  /** Instant, RFC 3339 in UTC */
  disabledAt?: string;
  /** Attempts that failed in a row */
  failures: number;
  /** When the receiver last took a message */
  lastSuccessAt?: string;
  /** Nothing is sent before: the receiver is slow, or asked to wait */
  pausedUntil?: string;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** Checks signatures (Standard Webhooks 1.0). It is shown this once and cannot be read again */
  secret: string;
};

export type DraftView = {
  /** UUID */
  entryId: string;
  /** Version of the draft, as in the ETag */
  draftRev: number;
  /** `barred`: not on track; `to-inspect`: the line must look; `clean`: nothing to look at beyond the usual */
  verdict: "barred" | "to-inspect" | "clean";
  /** What the rules say so far, in rule-set order */
  findings: readonly Finding[];
  /** What is still to be answered */
  missing: readonly {
  /** Catalogue key */
  key: string;
  /** Where on the car */
  position?: string;
  /** Part of a composite answer */
  field?: string;
}[];
  /** Answers kept but not used: they do not apply to this car */
  notApplicable: readonly string[];
  /** To be shown with every verdict */
  caution: string;
};

export type EnrolledToken = {
  /** UUID */
  tokenId: string;
  /** The secret. It is shown this once and cannot be read again */
  token: string;
  /** What the token may do */
  role: "organizer" | "chief" | "inspector" | "marshal";
  /** The person or device the token is for */
  holder: string;
  /** The events it is for; absent for an organizer */
  eventIds?: readonly string[];
};

export type EnrolmentView = {
  /** UUID */
  enrolmentId: string;
  /** The secret. It is shown this once and cannot be read again */
  code: string;
  /** To be shown as a QR code. The code stands behind `#`, which a browser sends to nobody */
  url: string;
  /** What the token may do */
  role: "organizer" | "chief" | "inspector" | "marshal";
  /** The person or device the token is for */
  holder: string;
  /** The events that the token will be for; absent for an organizer */
  eventIds?: readonly string[];
  /** From this instant on it cannot be redeemed */
  expiresAt: string;
};

export type EntryView = {
  /** Id of the entry */
  entryId: string;
  /** Its event */
  eventId: string;
  /** Its run group */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** Exact text */
  carNumber: string;
  /** Who enters the car; address and telephone only for organizers and the entrant */
  entrant: {
  name: string;
  personId?: string;
  email?: string;
  phone?: string;
};
  /** Everybody named on the entry */
  people: readonly {
  /** Name */
  name: string;
  /** What the person does */
  role: string;
  /** The person's id in the organizer's own list */
  personId?: string;
}[];
  /** The vehicle; entries of a shared car have the same */
  vehicleId: string;
  /** The record of the car */
  vehicle: Readonly<Record<string, unknown>>;
  /** Whether the car runs under this number in another run group of the event too */
  shared: boolean;
  /** What the gate says now */
  clearance: ClearanceView;
  /** Holds that stand */
  holds: readonly ({
  /** UUID */
  holdId: string;
  /** Why the car is held */
  reason: string;
  /** What it is about */
  about: "car" | "driver" | "entry";
  /** Decides what must be looked at before it is lifted */
  kind: "contact" | "leak" | "smoke" | "noise" | "driving" | "papers" | "other";
  /** Whether the entrant stopped his own car */
  byEntrant: boolean;
  /** What must be looked at before it is lifted */
  inspectAgain: readonly {
  /** Key of a catalogue item */
  item: string;
  /** Its name */
  label: string;
}[];
  /** Instant, RFC 3339 in UTC */
  placedAt: string;
  /** Who placed it */
  placedBy: string;
})[];
  /** Concessions that were granted, approved where that is needed, and not revoked; expired ones too */
  concessions: readonly {
  /** UUID */
  concessionId: string;
  /** The one rule it covers */
  ruleId: string;
  /** Why it was granted */
  reason: string;
  /** What it asks for */
  condition?: string;
  /** Instant, RFC 3339 in UTC */
  expiresAt: string;
}[];
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** Only where a number was given just now that can be taken for others of the event: those */
  warnings?: readonly NumberWarning[];
};

export type EraseEntryInput = {
  /** For the history, which keeps it: no names */
  reason: string;
  /** Also before the event is over, if the entry was withdrawn */
  force?: boolean;
};

export type ErasedEntry = {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** When the people were erased first */
  erasedAt: string;
  /** Photos that this request removed. Files in a folder are deleted within 31 days; an object store needs a rule of its own */
  photosRemoved: number;
  /** Free text of the entry that somebody wrote one of the erased names, addresses or numbers into */
  mentions: readonly {
  /** `history`, `answers`, `vehicle`, `sign-offs`, `conditions`, `holds` or `concessions` */
  place: string;
  /** Records there */
  count: number;
}[];
  /** Entries that name somebody of the same name: each is erased on its own */
  otherEntries: readonly string[];
};

export type EventChangesInput = {
  /** Name of the event */
  name?: string;
  /** Where it takes place; its time zone decides what a day is */
  venueId?: string;
  /** First day, YYYY-MM-DD at the venue */
  startsOn?: string;
  /** Last day, YYYY-MM-DD at the venue; an event has at most 31 days */
  endsOn?: string;
  /** Entrants may submit from this instant on, RFC 3339 */
  declarationsOpenAt?: string;
  /** Entrants may submit before this instant, RFC 3339 */
  declarationsCloseAt?: string;
  /** Whole days after the last event day for which personal data is kept; 0: it is erased the day after */
  retentionDays?: number;
  /** Whether a number that can be taken for another one of the event is entered with a warning, or refused */
  lookAlikes?: "warn" | "refuse";
  /** Whether numbers that differ only by leading zeros, such as 7 and 07, may stand beside each other */
  zeroTwins?: "refuse" | "allow";
  /** Why, for the history; needed when the days or the zone change and cars are signed off */
  reason?: string;
  /** `preview` that `POST …/preview` answered; needed in the same case */
  preview?: string;
};

export type EventHistory = {
  /** Oldest first */
  history: readonly {
  /** 1 is the first of the event */
  seq: number;
  /** Ids and facts: `from` and `to` of what changed, `reason` where one was given, `days` where they moved */
  data: Readonly<Record<string, unknown>>;
  /** Instant, RFC 3339 in UTC */
  at: string;
  /** What happened, `noun.verb` */
  action: string;
  /** Who did it; `clock` is time itself */
  actor: {
  role: string;
  name: string;
};
  /** `hash` of the row before, empty on the first */
  prevHash: string;
  /** SHA-256 over this row and `prevHash` */
  hash: string;
}[];
  /** `cursor` of the next page; absent on the last one */
  next?: string;
};

export type EventInput = {
  /** Name of the event */
  name: string;
  /** Where it takes place; its time zone decides what a day is */
  venueId: string;
  /** First day, YYYY-MM-DD at the venue */
  startsOn: string;
  /** Last day, YYYY-MM-DD at the venue; an event has at most 31 days */
  endsOn: string;
  /** Entrants may submit from this instant on, RFC 3339 */
  declarationsOpenAt: string;
  /** Entrants may submit before this instant, RFC 3339 */
  declarationsCloseAt: string;
  /** Whole days after the last event day for which personal data is kept; 0: it is erased the day after */
  retentionDays?: number;
  /** Whether a number that can be taken for another one of the event is entered with a warning, or refused */
  lookAlikes?: "warn" | "refuse";
  /** Whether numbers that differ only by leading zeros, such as 7 and 07, may stand beside each other */
  zeroTwins?: "refuse" | "allow";
};

export type EventList = {
  /** The latest first day comes first */
  events: readonly EventView[];
  /** `cursor` of the next page; absent on the last one */
  next?: string;
};

export type EventPreview = {
  /** Names this change of the days, from what to what; send it with the change */
  preview: string;
  /** The days stay as they are, and so does every clearance */
  sameDays: boolean;
  /** Accepted now */
  signedOff: number;
  /** Accepted for the whole event: would be so for the new days */
  follows: number;
  /** Accepted until an earlier end, which stays */
  keeps: number;
  /** Accepted until an earlier end, which would be before the new days: would not be admitted any more */
  ends: number;
  /** Would have to go through the line again: the event moved too far */
  lineAgain: number;
  /** Every accepted car, by car number */
  cars: readonly ({
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** What would become of it */
  outcome: "follows" | "keeps" | "ends" | "line-again";
  /** Until when the acceptance is valid now */
  before: string | null;
  /** Until when it would be; null where it would not admit */
  validUntil: string | null;
})[];
};

/** Server-sent events (HTML standard, section 9.2) */
export type EventStream = string;

export type EventView = {
  /** UUID */
  eventId: string;
  /** Name of the event */
  name: string;
  /** Where it takes place */
  venueId: string;
  /** IANA time zone of the venue */
  timeZone: string;
  /** First day at the venue */
  startsOn: string;
  /** Last day at the venue */
  endsOn: string;
  /** Entrants may submit from this instant on */
  declarationsOpenAt: string;
  /** Entrants may submit before this instant */
  declarationsCloseAt: string;
  /** Whether entrants may submit now */
  declarations: "not-open" | "open" | "closed";
  /** Days after the last event day for which personal data is kept */
  retentionDays: number;
  /** Whether a number that can be taken for another one of the event is entered with a warning, or refused */
  lookAlikes: "warn" | "refuse";
  /** Whether numbers that differ only by leading zeros, such as 7 and 07, may stand beside each other */
  zeroTwins: "refuse" | "allow";
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
};

export type ExplanationView = {
  /** UUID */
  inspectionId: string;
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** Revision of the declaration */
  revision: number;
  /** Rule set that judged it */
  ruleSetId: string;
  /** Published version that judged it */
  ruleSetVersion: number;
  /** The rule as it judged this car */
  rule: {
  /** Id of the rule */
  ruleId: string;
  /** What is judged */
  title: string;
  /** The rule in plain words, with the limits that held */
  text: string;
  /** Of a rule that is an expression */
  expression?: string;
  /** Where it applies */
  condition?: {
  /** As it is written in the rule */
  expression: string;
  /** The same in words */
  text: string;
};
  items: readonly {
  /** Catalogue key */
  key: string;
  /** Question */
  label: string;
}[];
  /** What the rule does when it is not met */
  effect: "bar" | "inspect" | "advise";
  /** On watch: counted, judges nobody */
  watch: boolean;
  /** Where the rule comes from */
  origin: {
  /** `rule-set`, or what changed it: the `venue` or the `run-group` */
  from: "rule-set" | "venue" | "run-group";
  /** Version of the rule set, for a rule of it */
  version?: number;
  /** A change of effect or watch */
  changed?: {
  /** `rule-set`, or what changed it: the `venue` or the `run-group` */
  by: "rule-set" | "venue" | "run-group";
  /** Why it is different here */
  reason: string;
  /** As the rule set has it */
  was: {
  /** Effect */
  effect: "bar" | "inspect" | "advise";
  /** On watch */
  watch: boolean;
};
};
};
  /** What the rule rests on */
  basis: {
  kind: "published";
  /** The publication */
  source: string;
} | {
  kind: "common-practice";
  /** Who does it so */
  note?: string;
};
};
  /** Named limits that the rule reads */
  parameters: readonly ({
  /** Name of the limit */
  name: string;
  /** A number in `unit`, a text, a yes/no or a list */
  value?: unknown;
  /** Unit of a number */
  unit?: string;
  /** Value and unit for people */
  text?: string;
  /** What it limits, in the organizer's words */
  meaning: string;
  /** Where the value of the rule set comes from */
  source?: string;
  /** Where the value comes from */
  origin: {
  /** `rule-set`, or what changed it: the `venue` or the `run-group` */
  from: "rule-set" | "venue" | "run-group";
  /** Version of the rule set that it is, or that was changed */
  version: number;
  /** What the rule set says, where it was changed */
  was?: {
  /** A number in `unit`, a text, a yes/no or a list */
  value: unknown;
  /** Unit of a number */
  unit?: string;
  /** Value and unit for people */
  text: string;
};
};
})[];
  /** Whether the rule gave a finding on this car */
  applies: boolean;
  /** Why it gave none */
  reason?: string;
  /** One per finding */
  positions: readonly ({
  /** Where on the car; absent: the whole car */
  position?: string;
  /** Two or three sentences for the driver */
  inWords: string;
  /** The finding as it was stored */
  finding: Finding;
  /** Of a rule with a condition */
  condition?: {
  /** As it is written in the rule */
  expression: string;
  /** The same in words */
  text: string;
  /** Null: it could not be told, so the rule has no answer */
  holds: boolean | null;
};
  /** Answers that the rule and its condition read */
  inputs: readonly ({
  /** Catalogue key */
  item: string;
  /** What was asked */
  label: string;
  /** Where on the car */
  position?: string;
  /** Part of an answer that has parts */
  field?: string;
  /** As it was declared or measured; absent: not answered */
  sent?: unknown;
  /** The same for people: `3/32 in` */
  sentText?: string;
  /** As it was judged, in `unit`; absent: there was nothing to judge */
  value?: unknown;
  /** Unit of a number */
  unit?: string;
  /** The judged value for people */
  valueText?: string;
  /** Who gave the value that was judged */
  by?: "entrant" | "inspector";
  /** Why there is no value */
  note?: string;
})[];
  /** What they read of vehicle, venue and event; no `value`: not stated */
  records: readonly ({
  /** Which record */
  from: "vehicle" | "venue" | "event";
  /** Place in the record */
  name: string;
  /** What it is */
  label: string;
  /** A number in `unit`, a text, a yes/no or a list */
  value?: unknown;
  /** Unit of a number */
  unit?: string;
})[];
  /** Derived facts that they read; no `value`: it could not be derived */
  facts: readonly {
  /** Name of the fact, with its position where it has one */
  name: string;
  /** What it is */
  meaning: string;
  /** A number in `unit`, a text, a yes/no or a list */
  value?: unknown;
  /** Unit of a number */
  unit?: string;
}[];
  /** What was compared */
  comparison: {
  /** `3.5 mm ≥ 4 mm is not so, short by 0.5 mm` */
  text: string;
  /** Null: something was missing */
  holds: boolean | null;
};
  /** What the finding does in this judgement */
  counts: "bar" | "inspect" | "advise" | "no";
  /** Why: effect, stage, concession, watch, or not known */
  countsBecause: string;
})[];
  /** Positions of this car at which it gave no finding */
  notAt: readonly {
  /** Where on the car */
  position: string;
  /** Why not there */
  reason: string;
}[];
  /** Whether the stored answers, judged again now by the rules of that day, give exactly the same findings */
  judgedAgain: "same" | "differs";
  /** The same at the newest sign-off, with what the inspector measured; absent: not signed off */
  atLine?: {
  /** UUID */
  signOffId: string;
  /** What the inspector decided */
  decision: string;
  /** Who decided */
  signedBy: string;
  /** Instant, RFC 3339 in UTC */
  signedAt: string;
  /** Whether the rule gave a finding on this car */
  applies: boolean;
  /** Why it gave none */
  reason?: string;
  /** One per finding */
  positions: readonly ({
  /** Where on the car; absent: the whole car */
  position?: string;
  /** Two or three sentences for the driver */
  inWords: string;
  /** The finding as it was stored */
  finding: Finding;
  /** Of a rule with a condition */
  condition?: {
  /** As it is written in the rule */
  expression: string;
  /** The same in words */
  text: string;
  /** Null: it could not be told, so the rule has no answer */
  holds: boolean | null;
};
  /** Answers that the rule and its condition read */
  inputs: readonly ({
  /** Catalogue key */
  item: string;
  /** What was asked */
  label: string;
  /** Where on the car */
  position?: string;
  /** Part of an answer that has parts */
  field?: string;
  /** As it was declared or measured; absent: not answered */
  sent?: unknown;
  /** The same for people: `3/32 in` */
  sentText?: string;
  /** As it was judged, in `unit`; absent: there was nothing to judge */
  value?: unknown;
  /** Unit of a number */
  unit?: string;
  /** The judged value for people */
  valueText?: string;
  /** Who gave the value that was judged */
  by?: "entrant" | "inspector";
  /** Why there is no value */
  note?: string;
})[];
  /** What they read of vehicle, venue and event; no `value`: not stated */
  records: readonly ({
  /** Which record */
  from: "vehicle" | "venue" | "event";
  /** Place in the record */
  name: string;
  /** What it is */
  label: string;
  /** A number in `unit`, a text, a yes/no or a list */
  value?: unknown;
  /** Unit of a number */
  unit?: string;
})[];
  /** Derived facts that they read; no `value`: it could not be derived */
  facts: readonly {
  /** Name of the fact, with its position where it has one */
  name: string;
  /** What it is */
  meaning: string;
  /** A number in `unit`, a text, a yes/no or a list */
  value?: unknown;
  /** Unit of a number */
  unit?: string;
}[];
  /** What was compared */
  comparison: {
  /** `3.5 mm ≥ 4 mm is not so, short by 0.5 mm` */
  text: string;
  /** Null: something was missing */
  holds: boolean | null;
};
  /** What the finding does in this judgement */
  counts: "bar" | "inspect" | "advise" | "no";
  /** Why: effect, stage, concession, watch, or not known */
  countsBecause: string;
})[];
  /** Positions of this car at which it gave no finding */
  notAt: readonly {
  /** Where on the car */
  position: string;
  /** Why not there */
  reason: string;
}[];
  /** Whether the stored answers, judged again now by the rules of that day, give exactly the same findings */
  judgedAgain: "same" | "differs";
  /** Points of this rule that were looked at without measuring */
  seen: readonly ({
  /** Catalogue key */
  item: string;
  /** Where on the car */
  position?: string;
  /** What was seen */
  result: "ok" | "not-ok";
  /** Remark of the inspector */
  note?: string;
})[];
};
  /** To be shown with it */
  caution: string;
};

export type Finding = {
  /** Id of the rule */
  ruleId: string;
  /** What was judged */
  title: string;
  /** Where on the car, for a rule that runs per position */
  position?: string;
  /** `unanswerable` counts like not met: what is not known is not fine */
  result: "met" | "not-met" | "unanswerable";
  /** What the rule does when it is not met */
  effect: "bar" | "inspect" | "advise";
  /** What this finding does in this judgement */
  counts: "bar" | "inspect" | "advise" | "no";
  /** Catalogue keys the rule reads */
  items: readonly string[];
  /** The value judged, in its unit */
  measured?: {
  value: number | string | boolean;
  unit?: string;
};
  /** What was asked for */
  limit?: string;
  /** The limit in numbers, to be shown in another unit; absent where it is none */
  bounds?: {
  /** The least it may be */
  min?: {
  value: number;
  unit: string;
};
  /** The most it may be */
  max?: {
  value: number;
  unit: string;
};
  /** The bound itself is outside */
  exclusive?: true;
  /** It limits a difference: 5 °C are 9 °F, not 41 °F */
  spread?: true;
};
  /** Distance to the limit; negative is outside */
  margin?: {
  value: number;
  unit: string;
};
  /** Who gave the value */
  source?: "declared" | "measured";
  /** Where the rule comes from */
  basis: {
  kind: "published";
  /** The publication */
  source: string;
} | {
  kind: "common-practice";
  /** Who does it so */
  note?: string;
};
  /** What is wrong; empty when met */
  message: string;
  /** What to do about it; empty when met */
  fix: string;
  /** The rule is on watch: counted, judges nobody */
  watched?: true;
  /** The concession that covers this rule */
  conceded?: {
  concessionId: string;
  /** Instant, RFC 3339 in UTC */
  expiresAt: string;
  /** What the concession asks for */
  condition?: string;
};
};

export type FindingSide = {
  /** Result of the rule */
  result: "met" | "not-met" | "unanswerable";
  /** What it does in this judgement */
  counts: "bar" | "inspect" | "advise" | "no";
  /** The value judged */
  measured?: {
  value: number | string | boolean;
  unit?: string;
};
  /** What was asked for */
  limit?: string;
  /** Distance to the limit; negative is outside, 0 is on it */
  margin?: {
  value: number;
  unit: string;
};
  /** What is wrong; empty when met */
  message: string;
};

export type FormView = {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** Name of the run group whose limits are shown */
  runGroup: string;
  /** The event it is for */
  event: {
  /** Its name */
  name: string;
  /** Calendar day at the venue, YYYY-MM-DD */
  startsOn: string;
  /** Calendar day at the venue, YYYY-MM-DD */
  endsOn: string;
  /** Of the venue, an IANA name: show times in it */
  timeZone: string;
};
  /** When declarations can be submitted */
  window: {
  /** Instant, RFC 3339 in UTC */
  opensAt: string;
  /** Instant, RFC 3339 in UTC */
  closesAt: string;
  open: boolean;
};
  /** Version of the saved draft, 0 when nothing is saved; as in the ETag */
  draftRev: number;
  /** Those that have items here, in the order of a walk around the car */
  areas: readonly {
  /** As in the items */
  area: string;
  /** For people */
  label: string;
}[];
  /** Only what applies to this car, in the order of the catalogue */
  items: readonly ({
  /** Catalogue key: use it in `answers` */
  key: string;
  /** Where on the car or in the papers */
  area: string;
  /** The question */
  label: string;
  /** How to look or measure */
  help: string;
  /** Type of the answer with unit, bounds or options */
  answer: {
  kind: string;
};
  /** Positions at which it is asked on this car */
  positions?: readonly string[];
  /** Who answers it */
  answeredBy: "entrant" | "inspector" | "both";
  /** Read before you do this */
  cautions: readonly string[];
  /** The rules that read this item */
  rules: readonly ({
  /** Id of the rule */
  ruleId: string;
  /** What is judged */
  title: string;
  /** What happens when it is not met */
  effect: "bar" | "inspect" | "advise";
  /** Where on the car */
  position?: string;
  /** What is asked for in this run group */
  limit?: string;
  /** The limit in numbers, to be shown in another unit; absent where it is none */
  bounds?: {
  /** The least it may be */
  min?: {
  value: number;
  unit: string;
};
  /** The most it may be */
  max?: {
  value: number;
  unit: string;
};
  /** The bound itself is outside */
  exclusive?: true;
  /** It limits a difference: 5 °C are 9 °F, not 41 °F */
  spread?: true;
};
  /** The exception to this rule that is in force for this car */
  concession?: ConcessionInForce;
})[];
  /** The answer saved in the draft */
  saved?: unknown;
  /** Photos of it, oldest first; a rule may ask for some */
  photos: readonly {
  /** The picture is at `/v1/photos/{photoId}` */
  photoId: string;
  /** Where on the car */
  position?: string;
}[];
  /** What was answered for this car last time: to be offered, never to be taken by itself */
  earlier?: {
  /** In the shape of an answer; what the line measured stands for what was declared */
  answer: unknown;
  /** It mostly stays the same from event to event */
  lasting: boolean;
};
  /** Cells still to be answered: position, field or both */
  missing: readonly string[];
})[];
  /** The event that `earlier` of the items is from */
  earlier?: {
  /** Its name */
  event: string;
  /** Calendar day at the venue, YYYY-MM-DD */
  endsOn: string;
};
  /** `barred`: not on track; `to-inspect`: the line must look; `clean`: nothing to look at beyond the usual */
  verdict: "barred" | "to-inspect" | "clean";
  /** What the rules say of the saved draft, in rule-set order */
  findings: readonly Finding[];
  /** Set on a car with 3 or more concessions in force: look at it as a whole */
  manyConcessions?: true;
  /** To be shown on the form */
  caution: string;
};

export type GateAnswer = {
  /** UUID */
  eventId: string;
  /** As asked */
  carNumber: string;
  /** True only if every entry asked for admits; anything but true means: do not admit */
  admit: boolean;
  /** Of the entry that decides; `unknown` when no car has this number */
  status: "clear" | "clear-with-conditions" | "no-declaration" | "barred" | "in-line" | "refused" | "held" | "expired" | "withdrawn" | "unknown";
  /** One plain sentence */
  reason: string;
  /** When this was decided */
  asOf: string;
  /** Until when `admit: true` holds if nothing else happens */
  validUntil: string | null;
  /** Numbers that may have been meant, when the number is unknown */
  similar: readonly string[];
  /** Other cars of the event whose numbers can be taken for this one, whatever the answer; without verdicts */
  lookAlikes: readonly LookAlike[];
  /** One per run group the number is entered in */
  entries: readonly ({
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** Description of the car */
  vehicle: string;
  /** As a marshal would say it */
  colour?: string;
  /** Whether this entry may go onto the track now */
  admit: boolean;
  /** Status of the clearance */
  status: "clear" | "clear-with-conditions" | "no-declaration" | "barred" | "in-line" | "refused" | "held" | "expired" | "withdrawn";
  /** One plain sentence */
  reason: string;
  /** Until when `admit: true` holds if nothing else happens */
  validUntil: string | null;
  /** Conditions still open */
  conditions: readonly {
  /** Id of the condition */
  id: string;
  /** What must be done */
  text: string;
  /** Instant by which it must be done; past it the car is held */
  dueAt?: string;
}[];
})[];
  /** To be shown with it */
  caution: string;
};

export type GateList = {
  /** UUID */
  eventId: string;
  /** Every entry of the event, by number */
  entries: readonly ({
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** Description of the car */
  vehicle: string;
  /** As a marshal would say it */
  colour?: string;
  /** Whether this entry may go onto the track now */
  admit: boolean;
  /** Status of the clearance */
  status: "clear" | "clear-with-conditions" | "no-declaration" | "barred" | "in-line" | "refused" | "held" | "expired" | "withdrawn";
  /** One plain sentence */
  reason: string;
  /** Until when `admit: true` holds if nothing else happens */
  validUntil: string | null;
  /** Conditions still open */
  conditions: readonly {
  /** Id of the condition */
  id: string;
  /** What must be done */
  text: string;
  /** Instant by which it must be done; past it the car is held */
  dueAt?: string;
}[];
})[];
  /** To be shown with it */
  caution: string;
};

export type GrantConcessionInput = {
  /** The one rule it covers */
  ruleId: string;
  /** Why this car may run all the same */
  reason: string;
  /** What is asked for in return: shown at the line and at the gate, and a condition of an acceptance */
  condition?: string;
  /** Cover the rule of this id in later versions of the rule set too; absent: no */
  coversLaterVersions?: boolean;
  /** End of the concession; from this instant on the rule counts again. At the latest as the category of the rule allows, without one when the event ends */
  expiresAt: string;
};

export type HeadsProof = {
  /** UUID */
  eventId: string;
  /** The earlier head */
  first: {
  /** Leaves under it */
  size: number;
  /** Root of the tree over them */
  root: string;
};
  /** The later head */
  second: {
  /** Leaves under it */
  size: number;
  /** Root of the tree over them */
  root: string;
};
  /** The hashes of the proof, in their order */
  proof: readonly string[];
};

export type HistoryProof = {
  /** UUID */
  eventId: string;
  /** The history row */
  historyId: string;
  /** What `hash` covers: SHA-256 over it as canonical JSON (RFC 8785) */
  content: {
  /** The entry that the row is about */
  entryId?: string;
  /** The car in the event, where it is about that */
  carId?: string;
  /** The event, where it is about that */
  eventId?: string;
  /** Number among the rows about the same */
  seq: number;
  /** What happened */
  action: string;
  /** Token of whoever did it */
  actorId: string;
  /** Role of that token */
  actorRole: string;
  /** When it was decided */
  at: string;
  /** Facts, as they were written */
  data: Readonly<Record<string, unknown>>;
  /** `hash` of the row before about the same; empty for the first */
  prevHash: string;
};
  /** The row's own hash */
  hash: string;
  /** Place of its leaf, from 0 */
  index: number;
  /** SHA-256 over the byte 0x00 and the 32 bytes of `hash` */
  leafHash: string;
  /** The hashes of the proof, in their order */
  proof: readonly string[];
  /** The newest signed head */
  head: {
  /** Leaves under it */
  size: number;
  /** What leaf and proof come to */
  root: string;
  /** When it was signed */
  at: string;
  /** The key that signed it, at `/.well-known/history-keys.json` */
  kid: string;
  /** The head as a compact JWS; its payload has `eventId`, `size`, `root` and `at` */
  jws: string;
};
};

export type HistoryView = {
  /** Oldest first */
  history: readonly ({
  /** Whose row it is: what is said of the car stands in the history of the car */
  of: "entry" | "car";
  /** 1 is the first of its entry, or of its car */
  seq: number;
  /** Ids and facts; `event` is what it meant for the clearance */
  data: Readonly<Record<string, unknown>>;
  /** Instant, RFC 3339 in UTC */
  at: string;
  /** What happened, `noun.verb` */
  action: string;
  /** Who did it; `clock` is time itself */
  actor: {
  role: string;
  name: string;
};
  /** `hash` of the row before, empty on the first */
  prevHash: string;
  /** SHA-256 over this row and `prevHash` */
  hash: string;
})[];
  /** Whether the hashes form one unbroken chain, of the entry and of its car */
  intact: boolean;
  /** The first row that does not fit */
  brokenAt?: number;
};

export type HoldView = {
  /** UUID */
  holdId: string;
  /** Where it was placed */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** What it is about: the car, with every entry it has at the event; a driver, with every entry that names him; or this entry alone */
  about: "car" | "driver" | "entry";
  /** Decides what must be looked at before it is lifted, and who may lift it */
  kind: "contact" | "leak" | "smoke" | "noise" | "driving" | "papers" | "other";
  /** The driver it is about */
  personId?: string;
  /** Whether the entrant stopped his own car */
  byEntrant: boolean;
  /** What the marshal and the driver read */
  reason: string;
  /** Who placed it */
  placedBy: string;
  /** Instant, RFC 3339 in UTC */
  placedAt: string;
  /** What must be looked at before it is lifted */
  inspectAgain: readonly {
  /** Key of a catalogue item */
  item: string;
  /** Its name */
  label: string;
}[];
  /** Other entries that it stops */
  alsoStopped: readonly {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** Name of its run group */
  runGroup: string;
}[];
  /** What it does not stop although it may look like it */
  warnings: readonly string[];
  /** Who lifted it */
  liftedBy?: string;
  /** Instant, RFC 3339 in UTC */
  liftedAt?: string;
  /** What was found, and why the car may go again */
  liftReason?: string;
  /** Why it was lifted without looking at those points */
  liftException?: string;
  /** Whether the lift sent the car through the line again */
  requiresReinspection: boolean;
  /** What the gate says now */
  clearance: ClearanceView;
};

export type Import = {
  /** UUID */
  importId: string;
  /** UUID */
  eventId: string;
  /** `failed`: what was written before stays; import the file again to finish it */
  state: "waiting" | "running" | "done" | "failed";
  /** Rows that are decided */
  done: number;
  /** Rows of the file, empty ones not counted; null until the work begins */
  total: number | null;
  /** Why it failed */
  error?: string;
  /** Who asked for it */
  requestedBy: string;
  /** Instant, RFC 3339 in UTC */
  requestedAt: string;
  /** Instant, RFC 3339 in UTC */
  finishedAt?: string;
  /** Number of new entries */
  created: number;
  /** Number of changed entries */
  updated: number;
  /** Number of rows that say what is known already */
  unchanged: number;
  /** Number of bad rows */
  rejected: number;
  /** Numbers that would be two cars of the event; each row among the rejected ones says how */
  numbersOfTwoCars: readonly {
  /** Exact text */
  carNumber: string;
  /** Rows that say so */
  rows: readonly number[];
}[];
  /** What became of each row that is decided, in the order of the file */
  rows: readonly ImportRow[];
};

export type ImportReport = {
  /** `true`: nothing was written */
  dryRun: boolean;
  /** Number of new entries */
  created: number;
  /** Number of changed entries */
  updated: number;
  /** Number of rows that say what is known already */
  unchanged: number;
  /** Number of bad rows */
  rejected: number;
  /** Numbers that would be two cars of the event; each row among the rejected ones says how */
  numbersOfTwoCars: readonly {
  /** Exact text */
  carNumber: string;
  /** Rows that say so */
  rows: readonly number[];
}[];
  /** What became of each row, in the order of the file; empty rows are left out */
  rows: readonly ImportRow[];
};

export type ImportRow = {
  /** Number of the row as a spreadsheet counts: the header is 1 */
  row: number;
  /** Exact text; absent when the cell is empty */
  carNumber?: string;
  /** What became of the row; what would have, where nothing was written */
  outcome: "created" | "updated" | "unchanged" | "rejected";
  /** The entry; absent where there is none */
  entryId?: string;
  /** Cars of the event, or of the file, whose numbers can be taken for a new one */
  warnings?: readonly NumberWarning[];
  /** Columns that an updated entry had otherwise */
  changed?: readonly string[];
  /** Every fault of a rejected row */
  errors?: readonly {
  /** Name of the column; absent: the row as a whole */
  column?: string;
  /** Kind of fault, for programs */
  code: string;
  /** What is wrong */
  detail: string;
}[];
};

export type ImportSummary = {
  /** UUID */
  importId: string;
  /** UUID */
  eventId: string;
  /** `failed`: what was written before stays; import the file again to finish it */
  state: "waiting" | "running" | "done" | "failed";
  /** Rows that are decided */
  done: number;
  /** Rows of the file, empty ones not counted; null until the work begins */
  total: number | null;
  /** Why it failed */
  error?: string;
  /** Who asked for it */
  requestedBy: string;
  /** Instant, RFC 3339 in UTC */
  requestedAt: string;
  /** Instant, RFC 3339 in UTC */
  finishedAt?: string;
};

export type InspectionView = {
  /** Id of this revision */
  inspectionId: string;
  /** Its entry */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** 1 for the first submission; the newest counts */
  revision: number;
  /** Rule set that judged it */
  ruleSetId: string;
  /** Published version that judged it */
  ruleSetVersion: number;
  /** Names exactly the rules that judged it, with what venue and group changed */
  rulesHash: string | null;
  /** `rejudged`: the same answers under other rules, ordered by the organizer */
  cause: "submitted" | "rejudged";
  /** The run group's overrides that judged it */
  parameters: Readonly<Record<string, RuleParameterOverride>>;
  /** `barred`: not on track; `to-inspect`: the line must look; `clean`: nothing to look at beyond the usual */
  verdict: "barred" | "to-inspect" | "clean";
  /** One per rule and position, in rule-set order */
  findings: readonly Finding[];
  /** What was not answered */
  missing: readonly {
  /** Catalogue key */
  key: string;
  /** Where on the car */
  position?: string;
  /** Part of a composite answer */
  field?: string;
}[];
  /** As declared */
  answers: Readonly<Record<string, unknown>>;
  /** Null while the car is barred, and once it has been through the line */
  ticket: {
  /** UUID */
  ticketId: string;
  /** Place on the line at the time of the answer, 1 is next */
  place: number;
} | null;
  /** Instant, RFC 3339 in UTC */
  submittedAt: string;
  /** To be shown with every verdict */
  caution: string;
};

export type KeySet = {
  /** The newest first; each of them verifies */
  keys: readonly {
  /** Elliptic curve */
  kty: "EC";
  /** The curve */
  crv: "P-256";
  /** base64url */
  x: string;
  /** base64url */
  y: string;
  /** Named in the header of what it signed; its thumbprint (RFC 7638) */
  kid: string;
  /** The only algorithm it is for */
  alg: "ES256";
  /** It verifies signatures */
  use: "sig";
}[];
};

export type LeaseView = {
  /** UUID */
  claimId: string;
  /** Length of the lease */
  leaseMinutes: number;
  /** Instant, RFC 3339 in UTC */
  expiresAt: string;
};

export type LiftHoldInput = {
  /** What was found, and why the car may go again */
  reason: string;
  /** What was looked at; the kind of the hold says what is needed */
  checks?: readonly ({
  /** Key of a catalogue item */
  item: string;
  /** What it was like */
  result: "ok" | "not-ok";
  /** What was seen */
  note?: string;
})[];
  /** Send the car through the line again instead; absent: no */
  requireReinspection?: boolean;
  /** Why it is lifted without those points: the chief inspector answers for it */
  exception?: string;
};

export type LineView = {
  /** Instant, RFC 3339 in UTC */
  asOf: string;
  /** In the order in which they are called */
  tickets: readonly ({
  /** UUID */
  ticketId: string;
  /** 1 is next */
  place: number;
  /** UUID */
  entryId: string;
  /** The revision that is inspected */
  inspectionId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** Description of the car, with its colour if known */
  vehicle: string;
  /** `barred`: not on track; `to-inspect`: the line must look; `clean`: nothing to look at beyond the usual */
  verdict: "barred" | "to-inspect" | "clean";
  /** `claimed` while an inspector holds an unexpired lease */
  state: "waiting" | "claimed";
  /** The claim that holds it */
  claimId?: string;
  /** Who holds it */
  claimedBy?: string;
  /** Instant, RFC 3339 in UTC */
  claimExpiresAt?: string;
  /** When it was put on the line */
  queuedAt: string;
  /** Exceptions in force for this car */
  concessions: readonly ConcessionInForce[];
  /** Set on a car with 3 or more concessions in force: look at it as a whole */
  manyConcessions?: true;
  /** First session of the run group: decides the order, then `queuedAt` */
  firstSessionAt: string;
  /** Rough estimate of its turn */
  expectedAt: string;
})[];
};

export type LookAlike = {
  /** Number of the other car, exact text */
  carNumber: string;
  /** Description of the other car */
  vehicle?: string;
  /** Its colour, as a marshal would say it */
  colour?: string;
  /** `zeros`: 7 and 07; `case`: 7a and 7A; `characters`: 6 and 9 (16 and 91 too), O and 0, I, l and 1, B and 8, S and 5; `swapped`: 12 and 21 */
  kind: "zeros" | "case" | "characters" | "swapped";
};

/** Prometheus text format 0.0.4 */
export type Metrics = string;

export type MintTokenInput = {
  /** What the token may do */
  role: "organizer" | "chief" | "inspector" | "marshal" | "entrant";
  /** The person or device it is given to; for people their name as on entries */
  holder: string;
  /** The one entry an entrant token is for */
  entryId?: string;
  /** The events it is for, 1 to 50. It works only there, until the end of the day after each */
  eventIds?: readonly string[];
  /** From this instant on it no longer works. Left out: tokens for events end the day after the last of them, tokens of entrants seven days after the last event day, tokens of organizers have no end */
  expiresAt?: string;
};

export type MintedToken = {
  /** UUID */
  tokenId: string;
  /** The secret. It is shown this once and cannot be read again */
  token: string;
  /** What the token may do */
  role: "organizer" | "chief" | "inspector" | "marshal" | "entrant";
  /** The person or device it was given to */
  holder: string;
  /** The one entry an entrant token is for */
  entryId?: string;
  /** The events it is for; it works nowhere else */
  events?: readonly {
  /** UUID */
  eventId: string;
  /** Name of the event */
  name: string;
  /** From this instant on it no longer works there */
  endsAt: string;
}[];
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** From this instant on it no longer works; absent: until it is revoked */
  expiresAt?: string;
  /** From this instant on it works nowhere, as its events stand now: it moves with them. Absent: until it is revoked */
  endsAt?: string;
};

export type NearCase = {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  eventId: string;
  /** UUID */
  runGroupId: string;
  /** UUID */
  inspectionId: string;
  /** An inspector accepted the car with this declaration */
  accepted: boolean;
  /** Id of the rule */
  ruleId: string;
  /** What was judged */
  title: string;
  /** Where on the car */
  position?: string;
  /** Result of the rule */
  result: "met" | "not-met" | "unanswerable";
  /** The value judged: a number, or a date */
  measured: number | string;
  /** What is asked for */
  limit: string;
  /** Distance to the limit; negative is outside, 0 is on it */
  margin: {
  value: number;
  unit: string;
};
  /** Size of the margin as a share of the limit, 0 being on it; days are set against a year */
  relative: number;
};

export type NewWebhookInput = {
  /** Where messages are posted: https, and no address of a private network unless the server allows it */
  url: string;
  /** What is told */
  types: readonly ("inspection.submitted" | "entry.signed-off" | "entry.withdrawn" | "hold.placed" | "hold.lifted" | "condition.fell-due" | "concession.granted" | "concession.revoked" | "clearance.changed")[];
  /** Only messages of this event; absent: of all events */
  eventId?: string;
  /** What it is for */
  description?: string;
};

export type NumberWarning = {
  /** Number of the other car, exact text */
  carNumber: string;
  /** Description of the other car */
  vehicle?: string;
  /** Its colour, as a marshal would say it */
  colour?: string;
  /** `zeros`: 7 and 07; `case`: 7a and 7A; `characters`: 6 and 9 (16 and 91 too), O and 0, I, l and 1, B and 8, S and 5; `swapped`: 12 and 21 */
  kind: "zeros" | "case" | "characters" | "swapped";
  /** What it can be taken for, as a sentence */
  detail: string;
};

export type OwnToken = {
  /** UUID */
  tokenId: string;
  /** What the token may do */
  role: "organizer" | "chief" | "inspector" | "marshal" | "entrant";
  /** The person or device it was given to */
  holder: string;
  /** The one entry an entrant token is for */
  entryId?: string;
  /** The events it is for and that are not over; absent: not bound to any */
  eventIds?: readonly string[];
};

export type PersonalData = {
  /** Instant, RFC 3339 in UTC */
  exportedAt: string;
  /** The event */
  event: {
  /** UUID */
  eventId: string;
  /** Name of the event */
  name: string;
  /** IANA time zone of the venue */
  timeZone: string;
  /** Calendar day at the venue, YYYY-MM-DD */
  startsOn: string;
  /** Calendar day at the venue, YYYY-MM-DD */
  endsOn: string;
  /** Days after the last event day for which personal data is kept */
  retentionDays: number;
  /** From this day on the people are erased */
  erasedFrom: string;
};
  /** The entry */
  entry: {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** Name of the run group */
  runGroup: string;
  /** Who enters the car, and how to reach them */
  entrant: {
  name: string;
  personId?: string;
  email?: string;
  phone?: string;
};
  /** Everybody named on the entry */
  people: readonly {
  /** Name */
  name: string;
  /** What the person does */
  role: string;
  /** The person's id in the organizer's own list */
  personId?: string;
}[];
  /** As it was recorded */
  vehicle: unknown;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** Instant, RFC 3339 in UTC */
  erasedAt: string | null;
};
  /** Saved, not necessarily submitted */
  draft: {
  /** As it was recorded */
  answers: unknown;
  /** Instant, RFC 3339 in UTC */
  updatedAt: string;
} | null;
  /** Submitted revisions, oldest first */
  declarations: readonly {
  /** UUID */
  inspectionId: string;
  /** 1 for the first submission */
  revision: number;
  /** `submitted`, or `rejudged`: the same answers under other rules */
  cause: string;
  /** Instant, RFC 3339 in UTC */
  submittedAt: string;
  /** Who did it; by name only the people of this entry */
  submittedBy: {
  role: string;
  name?: string;
};
  /** As it was recorded */
  answers: unknown;
  /** As it was recorded */
  vehicle: unknown;
  /** `barred`, `to-inspect` or `clean` */
  verdict: string;
  /** As it was recorded */
  findings: unknown;
}[];
  /** What the staff decided */
  decisions: {
  /** Decisions at the line */
  signOffs: readonly ({
  /** UUID */
  inspectionId: string;
  /** Instant, RFC 3339 in UTC */
  signedAt: string;
  /** `accept`, `accept-with-conditions` or `refuse` */
  decision: string;
  /** As it was recorded */
  checks: unknown;
  /** As it was written */
  note: string | null;
  /** As it was written */
  stickerNumber: string | null;
  /** Instant, RFC 3339 in UTC */
  validFrom: string | null;
  /** Instant, RFC 3339 in UTC */
  validUntil: string | null;
})[];
  /** Conditions of acceptances */
  conditions: readonly ({
  /** As it was written */
  text: string;
  /** Instant, RFC 3339 in UTC */
  dueAt: string | null;
  /** Instant, RFC 3339 in UTC */
  doneAt: string | null;
  /** As it was written */
  doneNote: string | null;
})[];
  /** Holds, lifted ones too */
  holds: readonly ({
  /** As it was written */
  reason: string;
  /** Instant, RFC 3339 in UTC */
  placedAt: string;
  /** Instant, RFC 3339 in UTC */
  liftedAt: string | null;
  /** As it was written */
  liftReason: string | null;
})[];
  /** Concessions, revoked ones too */
  concessions: readonly ({
  /** The one rule it covers */
  ruleId: string;
  /** As it was written */
  reason: string;
  /** As it was written */
  condition: string | null;
  /** Instant, RFC 3339 in UTC */
  grantedAt: string;
  /** Instant, RFC 3339 in UTC */
  expiresAt: string;
  /** Instant, RFC 3339 in UTC */
  revokedAt: string | null;
})[];
};
  /** What happened to the entry, oldest first */
  history: readonly {
  /** 1 is the first */
  seq: number;
  /** Instant, RFC 3339 in UTC */
  at: string;
  /** What happened, `noun.verb` */
  action: string;
  /** Who did it; by name only the people of this entry */
  actor: {
  role: string;
  name?: string;
};
  /** As it was recorded */
  data: unknown;
}[];
  /** Without the tokens themselves, of which the server has only hashes */
  tokens: readonly ({
  /** UUID */
  tokenId: string;
  /** The person it was given to */
  holder: string;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** Instant, RFC 3339 in UTC */
  expiresAt: string | null;
  /** Instant, RFC 3339 in UTC */
  revokedAt: string | null;
})[];
  /** The pictures are at `/v1/photos/{photoId}` until they are removed */
  photos: readonly ({
  /** UUID */
  photoId: string;
  /** Catalogue key of what it shows */
  item: string;
  /** Where on the car */
  position: string | null;
  /** Type of the picture as it is kept */
  mediaType: string;
  /** Pixels */
  width: number;
  /** Pixels */
  height: number;
  /** Size of the picture as it is kept */
  bytes: number;
  /** SHA-256 of the picture as it is kept, hexadecimal */
  contentHash: string;
  /** Instant, RFC 3339 in UTC */
  uploadedAt: string;
  /** Who did it; by name only the people of this entry */
  uploadedBy: {
  role: string;
  name?: string;
};
  /** Instant, RFC 3339 in UTC */
  removedAt: string | null;
})[];
  /** What the entrant was told */
  notifications: readonly ({
  /** What it told, `noun.verb` */
  kind: string;
  /** How it was sent */
  transport: string;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** Instant, RFC 3339 in UTC */
  sentAt: string | null;
})[];
  /** When the gate was asked about this number at the event */
  gateLookups: readonly {
  /** Instant, RFC 3339 in UTC */
  at: string;
  /** Whether the car might go */
  admit: boolean;
  /** Why, in one word */
  status: string;
}[];
};

export type PhotoList = {
  /** Oldest first */
  photos: readonly PhotoView[];
};

export type PhotoView = {
  /** Id of this photo */
  photoId: string;
  /** Its entry */
  entryId: string;
  /** Catalogue key of what it shows */
  item: string;
  /** Where on the car */
  position?: string;
  /** Type of the picture as it is kept */
  mediaType: string;
  /** Pixels */
  width: number;
  /** Pixels */
  height: number;
  /** Size of the picture as it is kept */
  bytes: number;
  /** SHA-256 of the picture as it is kept, hexadecimal; also its ETag */
  contentHash: string;
  /** Who sent it */
  uploadedBy: {
  role: string;
  name: string;
};
  /** Instant, RFC 3339 in UTC */
  uploadedAt: string;
};

export type PlaceHoldInput = {
  /** What the marshal and the driver read, for example "contact in session 2" */
  reason: string;
  /** Absent: the car */
  about?: "car" | "driver" | "entry";
  /** Absent: other */
  kind?: "contact" | "leak" | "smoke" | "noise" | "driving" | "papers" | "other";
  /** The driver, by the id given at entry or import; needed where it is about a driver */
  personId?: string;
};

export type Problem = {
  /** Address of a page that says cause and remedy */
  type: string;
  /** What kind of problem this is; fixed text */
  title: string;
  /** The HTTP status */
  status: number;
  /** What to change in this request */
  detail: string;
  /** The address that was asked */
  instance: string;
  /** The last part of `type`, for programs */
  code: string;
  /** Names this request in the logs */
  requestId: string;
  /** Every fault found, at most 100 */
  errors?: readonly ({
  /** JSON Pointer to the value */
  pointer: string;
  /** Kind of fault, for programs */
  code: string;
  /** What is wrong with it */
  detail: string;
  /** Part of the request */
  in?: "body" | "path" | "query" | "header";
})[];
  /** Faults that were found and are not listed; absent: all are */
  moreErrors?: number;
  /** The state that refused the operation */
  currentState?: string;
  /** What can be done instead */
  wayOut?: {
  /** For a person */
  words: string;
  /** Method and path of the operation that helps */
  operation: string;
  /** Who may call it */
  roles: readonly string[];
};
};

export type PublishRuleSetInput = {
  /** What is different, for organizers and entrants */
  changelog: string;
};

export type PublishedRuleSet = {
  /** UUID */
  ruleSetId: string;
  /** 1, 2, 3 … */
  version: number;
  /** SHA-256 (hex) of the document in the canonical form of RFC 8785 */
  contentHash: string;
  /** Instant, RFC 3339 in UTC */
  publishedAt: string;
  /** Who published it */
  publishedBy: string;
};

export type ReadinessView = {
  /** UUID */
  eventId: string;
  /** Instant for which it was decided */
  asOf: string;
  /** What the gate says now */
  entries: {
  /** All entries of the event, also withdrawn ones */
  total: number;
  /** Every entry is counted once, so they add up to the total */
  statuses: {
  /** Entries of which the gate says clear */
  clear: number;
  /** Entries of which the gate says clear-with-conditions */
  'clear-with-conditions': number;
  /** Entries of which the gate says no-declaration */
  'no-declaration': number;
  /** Entries of which the gate says barred */
  barred: number;
  /** Entries of which the gate says in-line */
  'in-line': number;
  /** Entries of which the gate says refused */
  refused: number;
  /** Entries of which the gate says held */
  held: number;
  /** Entries of which the gate says expired */
  expired: number;
  /** Entries of which the gate says withdrawn */
  withdrawn: number;
};
  /** In the order of the event */
  groups: readonly {
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  name: string;
  /** Entries of the group */
  total: number;
  /** Every entry is counted once, so they add up to the total */
  statuses: {
  /** Entries of which the gate says clear */
  clear: number;
  /** Entries of which the gate says clear-with-conditions */
  'clear-with-conditions': number;
  /** Entries of which the gate says no-declaration */
  'no-declaration': number;
  /** Entries of which the gate says barred */
  barred: number;
  /** Entries of which the gate says in-line */
  'in-line': number;
  /** Entries of which the gate says refused */
  refused: number;
  /** Entries of which the gate says held */
  held: number;
  /** Entries of which the gate says expired */
  expired: number;
  /** Entries of which the gate says withdrawn */
  withdrawn: number;
};
}[];
};
  /** The 20 most common findings, of the newest revision of each entry */
  findings: readonly {
  /** Id of the rule */
  ruleId: string;
  /** What was judged */
  title: string;
  /** Cars on which it is not met or not known */
  cars: number;
  /** Of these, kept off the track by it */
  bars: number;
  /** Of these, looked at for it */
  inspects: number;
  /** Of these, advised */
  advises: number;
}[];
  /** Rules on watch: counted, judge nobody */
  watched: readonly {
  /** Id of the rule */
  ruleId: string;
  /** What was judged */
  title: string;
  /** Cars it was tried on */
  judged: number;
  /** Of these, cars on which it is not met */
  notMet: number;
  /** Of these, cars on which it is not known */
  unanswerable: number;
}[];
  /** Who has not declared */
  undeclared: {
  /** Entries without a declaration that counts */
  total: number;
  /** When declarations close */
  closesAt: string;
  /** Whether they can be submitted now */
  open: boolean;
  /** By car number, at most 1000 */
  cars: readonly {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** Why an earlier one no longer counts */
  reason?: string;
}[];
};
  /** Holds that stand, at most 1000 */
  holds: readonly {
  /** UUID */
  holdId: string;
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** Why the car is held */
  reason: string;
}[];
  /** Conditions that are not done, the earliest due first, at most 1000 */
  conditions: readonly {
  /** UUID */
  conditionId: string;
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** What must be done */
  text: string;
  /** Instant, RFC 3339 in UTC */
  dueAt?: string;
  /** The gate holds the car for it */
  pastDue: boolean;
}[];
  /** Exceptions to rules */
  concessions: {
  /** Exceptions that count now */
  inForce: number;
  /** Exceptions that wait for a second person and count nothing yet */
  awaitingApproval: number;
  /** Cars with 3 or more in force */
  manyConcessions: readonly {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  runGroup: string;
  /** Exceptions in force */
  inForce: number;
}[];
};
  /** Forecast of the line: the best case, not a promise */
  line: {
  /** Cars on the line */
  waiting: number;
  /** Cars that must still come to it */
  expected: number;
  /** People who held a claim within the last 15 minutes */
  inspectors: number;
  service: {
  /** Mean time for one car, minutes */
  minutes: number;
  /** `measured` from claim to sign-off at this event; `assumption` while fewer than 5 were measured */
  from: "measured" | "assumption";
  /** Inspections that were measured */
  measured: number;
};
  /** When the cars on the line are through; null: nobody inspects */
  waitingDoneAt: string | null;
  /** The same with all that must still come; null: nobody inspects */
  allDoneAt: string | null;
  /** Fewest with whom every group can be in time; null: too late for one */
  inspectorsNeeded: number | null;
  /** By first session: the line takes them in this order */
  groups: readonly ({
  /** UUID */
  runGroupId: string;
  /** Name of the run group */
  name: string;
  /** Instant, RFC 3339 in UTC */
  firstSessionAt: string;
  /** Cars on the line */
  waiting: number;
  /** Cars that must still come to it */
  expected: number;
  /** When its last car is through at best; null: nobody inspects */
  doneAt: string | null;
  /** Whether that is before its first session; null: nobody inspects */
  inTime: boolean | null;
  /** Fewest with whom it can be in time; null: it is too late for any number */
  inspectorsNeeded: number | null;
  /** The same if the expected cars come at random and 9 of 10 are to wait at most 15 minutes; null: too late to tell */
  inspectorsForWaits: number | null;
})[];
  /** What the forecast rests on */
  assumptions: readonly string[];
};
};

export type Ready = {
  /** The server can do its work */
  status: "ready";
  /** The database answers and its tables are those of this version */
  database: "ok";
  /** The clock of the database decides; set the machine right when they differ by more than 2 seconds */
  clock?: {
  /** How far the clock of this machine is ahead of the database, milliseconds */
  differenceMs: number;
};
};

export type RedeemEnrolmentInput = {
  /** The code, as it was shown */
  code: string;
};

export type RejudgeInput = {
  /** `rulesHash` of the run group: the rules that must judge the cars */
  rulesHash: string;
  /** Why, for history, entrants and the gate */
  reason: string;
};

export type RejudgementView = {
  /** UUID */
  rejudgementId: string;
  /** UUID */
  runGroupId: string;
  /** The rules that judge */
  rulesHash: string;
  /** Why */
  reason: string;
  /** What was done before a failure stays done */
  state: "waiting" | "running" | "done" | "failed";
  /** Entries looked at */
  done: number;
  /** Entries of the group; null until the work begins */
  total: number | null;
  /** Why it failed */
  error?: string;
  /** What came of each entry, by car number */
  entries: readonly ({
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** `judged-anew`: nobody had accepted it; `recalled`: accepted, and back on the line; `signed-off` and `refused`: left as it is; `same-rules`: judged by these rules already */
  outcome: "judged-anew" | "recalled" | "signed-off" | "refused" | "same-rules" | "not-declared" | "withdrawn" | "gone";
  /** Verdict before */
  before?: "barred" | "to-inspect" | "clean";
  /** Verdict under the rules of today */
  after?: "barred" | "to-inspect" | "clean";
  /** Why it was recalled */
  reason?: string;
  /** The new revision */
  inspectionId?: string;
})[];
  /** Who asked for it */
  requestedBy: string;
  /** Instant, RFC 3339 in UTC */
  requestedAt: string;
  /** Instant, RFC 3339 in UTC */
  finishedAt?: string;
};

export type ReplaceDraftInput = {
  /** Name in lists */
  name: string;
  /** The whole rule set; it need not be complete yet */
  document: Readonly<Record<string, unknown>>;
};

export type ResolvedRules = {
  /** UUID */
  runGroupId: string;
  /** UUID */
  ruleSetId: string;
  /** The published version underneath */
  ruleSetVersion: number;
  /** Name of the rule set */
  name: string;
  /** Names exactly these rules */
  rulesHash: string | null;
  /** The venue has changed its rules since the group took them; PATCH with `takeVenueRules` takes them */
  venueRulesAreNewer: boolean;
  /** In the order of the rule set */
  parameters: readonly ({
  /** Name of the parameter */
  name: string;
  /** The value that judges this group */
  value: number | string | boolean | (readonly string[]);
  /** Its unit */
  unit?: string;
  /** What it limits */
  meaning: string;
  /** Where the rule set has it from */
  source?: string;
  /** Where it comes from */
  from: "rule-set" | "venue" | "run-group";
  /** Value of the rule set */
  was?: {
  value: number | string | boolean | (readonly string[]);
  unit?: string;
};
})[];
  /** In the order in which findings are listed */
  rules: readonly ({
  /** Where it comes from */
  from: "rule-set" | "venue" | "run-group";
  /** Set when effect or watch is different here */
  changed?: {
  /** Where it comes from */
  by: "rule-set" | "venue" | "run-group";
  /** Why it is different here */
  reason: string;
  /** As the rule set has it */
  was: {
  effect: "bar" | "inspect" | "advise";
  watch: boolean;
};
};
  /** The rule as it judges this group */
  rule: Readonly<Record<string, unknown>>;
})[];
};

export type RetireRuleSetVersionInput = {
  /** Why nothing new may be judged by it */
  reason: string;
};

export type RevokeConcessionInput = {
  /** Why it no longer counts; history keeps it */
  reason: string;
};

export type RotatedSecret = {
  /** UUID */
  webhookId: string;
  /** Checks signatures (Standard Webhooks 1.0). It is shown this once and cannot be read again */
  secret: string;
  /** Until then messages are signed with the secret before as well */
  previousEndsAt: string;
};

export type RuleAgeLimitInput = {
  /** Name of a parameter */
  parameter: string;
} | ({
  /** How many */
  value: number;
  /** Of what */
  unit: "day" | "month" | "year";
});

/** Where the rule comes from */
export type RuleBasisInput = {
  kind: "published";
  /** The publication and its section */
  source: string;
} | {
  kind: "common-practice";
  /** Who does it so, and why */
  note?: string;
};

export type RuleChange = {
  /** Id of the rule */
  ruleId: string;
  /** What was judged */
  title: string;
  /** Where on the car */
  position?: string;
  /** As it was; absent: the rule judged nothing here */
  before?: FindingSide;
  /** As it would be; absent: the rule would judge nothing here */
  after?: FindingSide;
};

export type RuleCountInput = {
  /** Name of a parameter */
  parameter: string;
} | {
  /** How many */
  value: number;
};

export type RuleInput = {
  /** Stable name; concessions and examples refer to it */
  id: string;
  /** What is judged, as a heading */
  title: string;
  /** Catalogue keys the test reads; they become points to check */
  items: readonly string[];
  /** Expression; the rule applies only where it is true */
  when?: string;
  /** Run once per position of this scheme */
  each?: "wheel" | "axle" | "wheel-side" | "wheel-zone" | "bushing" | "strap" | "fluid";
  test: RuleTestInput;
  /** What it does when it is not met */
  effect: "bar" | "inspect" | "advise";
  /** What is wrong, for the entrant */
  message: string;
  /** What to do about it */
  fix: string;
  /** A derived fact that is a text, added to `fix` where it is known */
  fixFact?: string;
  basis: RuleBasisInput;
  /** Venues and run groups may tighten it and never loosen it */
  floor?: true;
  /** An exception to it needs a second person */
  safetyCritical?: true;
  /** Cars signed off before it was tightened go back to the line */
  recall?: true;
  /** Counted, judges nobody: for trying a new rule at one event */
  watch?: true;
  /** Category of its exceptions; absent: until the event ends */
  concession?: string;
};

export type RuleLimitInput = {
  /** Name of a parameter */
  parameter: string;
} | {
  /** The number */
  value: number;
  /** Its unit; absent: the unit of the item */
  unit?: string;
} | {
  /** Path in the vehicle record; per-position values are taken at the position */
  vehicle: string;
};

export type RuleParameterOverride = {
  /** The value for this run group */
  value: number | string | boolean | (readonly string[]);
  /** Any unit that converts to the parameter’s unit; absent: the parameter’s own */
  unit?: string;
};

export type RuleParameterOverrideInput = {
  /** The value for this run group */
  value: number | string | boolean | (readonly string[]);
  /** Any unit that converts to the parameter’s unit; absent: the parameter’s own */
  unit?: string;
};

export type RuleSetCheck = {
  /** Whether the draft can be published */
  ok: boolean;
  /** Every fault found, at most 100; empty when ok */
  faults: readonly {
  /** JSON Pointer into the document */
  pointer: string;
  /** Kind of fault, for programs */
  code: string;
  /** What is wrong */
  detail: string;
  /** Place inside an expression */
  at?: {
  /** 0-based, in UTF-16 units */
  offset: number;
  /** 1-based */
  line: number;
  /** 1-based */
  column: number;
};
  /** Place in the YAML text, where the draft is one */
  place?: {
  /** 1-based */
  line: number;
  /** 1-based, in UTF-16 units */
  column: number;
};
}[];
  /** Faults that were found and are not listed */
  moreFaults: number;
  /** What does not keep the draft from being published, at most 100 */
  warnings: readonly {
  /** JSON Pointer into the document */
  pointer: string;
  /** `no-passing-example` or `no-failing-example` */
  code: string;
  /** What its author should know */
  detail: string;
  /** Place in the YAML text, where the draft is one */
  place?: {
  /** 1-based */
  line: number;
  /** 1-based, in UTF-16 units */
  column: number;
};
}[];
  /** Warnings that are not listed */
  moreWarnings: number;
};

/** The rule set, of any shape */
export type RuleSetDocumentInput = Readonly<Record<string, unknown>>;

export type RuleSetList = {
  /** Oldest first */
  ruleSets: readonly {
  /** UUID */
  ruleSetId: string;
  /** Name in lists */
  name: string;
  /** Newest published version; absent: none yet */
  latestVersion?: number;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
}[];
};

export type RuleSetVersion = {
  /** UUID */
  ruleSetId: string;
  /** 1, 2, 3 … */
  version: number;
  /** SHA-256 (hex) of the document in the canonical form of RFC 8785 */
  contentHash: string;
  /** Instant, RFC 3339 in UTC */
  publishedAt: string;
  /** Who published it */
  publishedBy: string;
  /** What is different to the version before */
  changelog: string;
  /** Set once the version is retired: nothing new may point at it */
  retired?: {
  /** Instant, RFC 3339 in UTC */
  at: string;
  /** Who retired it */
  by: string;
  /** Why */
  reason: string;
};
  /** The rule set as it was sent */
  document: Readonly<Record<string, unknown>>;
};

export type RuleSetVersionList = {
  /** Newest first */
  versions: readonly {
  /** UUID */
  ruleSetId: string;
  /** 1, 2, 3 … */
  version: number;
  /** SHA-256 (hex) of the document in the canonical form of RFC 8785 */
  contentHash: string;
  /** Instant, RFC 3339 in UTC */
  publishedAt: string;
  /** Who published it */
  publishedBy: string;
  /** What is different to the version before */
  changelog: string;
  /** Set once the version is retired: nothing new may point at it */
  retired?: {
  /** Instant, RFC 3339 in UTC */
  at: string;
  /** Who retired it */
  by: string;
  /** Why */
  reason: string;
};
}[];
};

export type RuleSetView = {
  /** UUID */
  ruleSetId: string;
  /** Name in lists */
  name: string;
  /** Newest published version; absent: none yet */
  latestVersion?: number;
  /** The rule set as it was sent */
  document: Readonly<Record<string, unknown>>;
  /** What the static check says of this draft */
  check: RuleSetCheck;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
};

export type RuleTestAgeInput = {
  kind: "age";
  /** Catalogue key */
  item: string;
  /** Part of an answer that has parts */
  field?: string;
  /** The oldest it may be */
  atMost: RuleAgeLimitInput;
  /** The day the age is taken on; absent: the last */
  at?: "event-end" | "event-start";
};

export type RuleTestConfirmInput = {
  kind: "confirm";
  /** Catalogue key */
  item: string;
  /** Part of an answer that has parts */
  field?: string;
  /** What a yes/no must be; absent: yes */
  expect?: boolean;
};

export type RuleTestExpressionInput = {
  kind: "expression";
  /** A yes/no expression */
  expr: string;
};

/** How the rule is judged */
export type RuleTestInput = RuleTestLimitInput | RuleTestRangeInput | RuleTestOneOfInput | RuleTestConfirmInput | RuleTestAgeInput | RuleTestValidThroughInput | RuleTestSpreadInput | RuleTestPhotoInput | RuleTestExpressionInput;

export type RuleTestLimitInput = {
  kind: "limit";
  /** Catalogue key */
  item: string;
  /** Part of an answer that has parts */
  field?: string;
  /** The least it may be */
  atLeast?: RuleLimitInput;
  /** The most it may be */
  atMost?: RuleLimitInput;
  /** More than / less than, instead of at least / at most */
  strict?: true;
};

export type RuleTestOneOfInput = {
  /** Whether it must be in the list, or must not */
  kind: "one-of" | "none-of";
  /** Catalogue key */
  item: string;
  /** Part of an answer that has parts */
  field?: string;
  /** The texts, or a parameter that lists them */
  values: (readonly string[]) | {
  /** Name of a parameter */
  parameter: string;
};
};

export type RuleTestPhotoInput = {
  kind: "photo";
  /** Catalogue key */
  item: string;
  /** How many photos */
  atLeast: number;
};

export type RuleTestRangeInput = {
  kind: "range";
  /** Catalogue key */
  item: string;
  /** Part of an answer that has parts */
  field?: string;
  /** The least it may be */
  from: RuleLimitInput;
  /** The most it may be */
  to: RuleLimitInput;
};

export type RuleTestSpreadInput = {
  kind: "spread";
  /** Catalogue key */
  item: string;
  /** Part of an answer that has parts */
  field?: string;
  /** Within each wheel; absent: over all positions */
  within?: "wheel";
  /** The largest difference */
  atMost: RuleLimitInput;
};

export type RuleTestValidThroughInput = {
  kind: "valid-through";
  /** Catalogue key */
  item: string;
  /** Part of an answer that has parts */
  field?: string;
  through: "event-end";
  /** `false`: it must be later than the last event day */
  inclusive: boolean;
  /** Months the label adds to the date */
  addMonths?: RuleCountInput;
  /** Years the label adds to the date */
  addYears?: RuleCountInput;
  /** Then to 31 December */
  endOfYear?: true;
};

export type RunGroupChangesInput = {
  /** Name, unique in the event */
  name?: string;
  /** Place in lists; equal ones are in order of name */
  order?: number;
  /** When the group first goes on track, RFC 3339; on a day of the event at the venue */
  firstSessionAt?: string;
  /** The rule set that judges this group */
  ruleSetId?: string;
  /** A published version of it */
  ruleSetVersion?: number;
  /** Overrides to set, each as a whole; `null` takes one away; those not named stay */
  parameters?: Readonly<Record<string, RuleParameterOverrideInput | null>>;
  /** Effects and rules that are different here, as a whole */
  overlay?: {
  /** Changed effects by rule id */
  effects?: Readonly<Record<string, {
  /** What the rule does here when it is not met */
  effect?: "bar" | "inspect" | "advise";
  /** `true`: counted here, judges nobody; `false`: judges here */
  watch?: boolean;
  /** Why it is different here */
  reason: string;
}>>;
  /** Further rules, judged after those of the rule set */
  rules?: readonly RuleInput[];
};
  /** Take over what the venue changes in the rule set today; otherwise it stays as the group took it */
  takeVenueRules?: true;
  /** The `preview` of the answer that showed who would change; needed once anybody has declared */
  preview?: string;
  /** Why, for the history of the event */
  reason?: string;
};

export type RunGroupInput = {
  /** Name, unique in the event */
  name: string;
  /** Place in lists; equal ones are in order of name */
  order: number;
  /** When the group first goes on track, RFC 3339; on a day of the event at the venue */
  firstSessionAt: string;
  /** The rule set that judges this group */
  ruleSetId: string;
  /** A published version of it */
  ruleSetVersion: number;
  /** Limits of the rule set that are different for this group, by name */
  parameters?: Readonly<Record<string, RuleParameterOverrideInput>>;
  /** Effects and rules that are different here */
  overlay?: {
  /** Changed effects by rule id */
  effects?: Readonly<Record<string, {
  /** What the rule does here when it is not met */
  effect?: "bar" | "inspect" | "advise";
  /** `true`: counted here, judges nobody; `false`: judges here */
  watch?: boolean;
  /** Why it is different here */
  reason: string;
}>>;
  /** Further rules, judged after those of the rule set */
  rules?: readonly RuleInput[];
};
};

export type RunGroupList = {
  /** By order, then name */
  runGroups: readonly RunGroupView[];
};

export type RunGroupPreview = {
  /** Cars */
  totals: {
  /** Declarations judged */
  judged: number;
  /** Other verdict than before */
  flipped: number;
  /** Barred, and was not */
  newlyBarred: number;
  /** To inspect, and was barred or clean */
  newlyToInspect: number;
  /** Clean, and was not */
  newlyClean: number;
  /** Verdicts as they were given, without concessions */
  before: {
  /** Cars barred */
  barred: number;
  /** Cars the line must look at */
  'to-inspect': number;
  /** Cars with nothing to look at */
  clean: number;
};
  /** Verdicts under the rules tried, without concessions */
  after: {
  /** Cars barred */
  barred: number;
  /** Cars the line must look at */
  'to-inspect': number;
  /** Cars with nothing to look at */
  clean: number;
};
  /** Judged with a concession before; concessions count on neither side of the comparison */
  hadConcession: number;
  /** With answers that the catalogue of today cannot read: they count as not given */
  unreadable: number;
};
  /** Every rule in order; rules that judged no car too */
  rules: readonly {
  /** Id of the rule */
  ruleId: string;
  /** What it judges */
  title: string;
  /** On watch: counted, judges nobody */
  watched?: true;
  /** Not among the rules tried */
  gone?: true;
  /** Cars that meet it */
  met: number;
  /** Cars that do not, at one position or more */
  notMet: number;
  /** Cars that lack an answer to it */
  unanswerable: number;
  /** Of those not met, cars that were not so before */
  newlyNotMet: number;
  /** Of those unanswerable, cars that were not so before */
  newlyUnanswerable: number;
  /** Of those met, cars that did not meet it before */
  newlyMet: number;
  /** Cars it judged before and does not judge now */
  noLongerJudged: number;
  /** Flips it explains, alone or with others */
  flips: number;
  /** A few cars nearest to its limit */
  nearest: {
  /** Just inside, nearest first */
  met: readonly NearCase[];
  /** Just outside, nearest first */
  notMet: readonly NearCase[];
};
}[];
  /** Cars with another verdict, by event, run group and car number */
  flips: readonly VerdictFlip[];
  /** The cars nearest to a limit, over all rules */
  nearest: {
  /** Just inside, nearest first */
  met: readonly NearCase[];
  /** Just outside, nearest first */
  notMet: readonly NearCase[];
};
  /** What was cut; the numbers are always of all */
  truncated: {
  /** There are more flips than listed */
  flips: boolean;
  /** There are more values with a distance to a limit than listed */
  nearest: boolean;
};
  /** Names the rules that would judge; send it with the change that leads to them */
  preview: string;
  /** The group is judged by exactly these rules already */
  sameRules: boolean;
  /** What becomes of the entries when they are judged anew under these rules; nothing happens before */
  onRejudgement: {
  /** Declared, and not accepted by anybody yet: would be judged anew */
  judgedAnew: number;
  /** Accepted, and would drop to the line: a rule marked `recall` is new or tighter */
  recalled: number;
  /** Accepted, and would stay so */
  signedOff: number;
  /** Refused, and would stay so */
  refused: number;
  /** Judged by these rules already */
  sameRules: number;
  /** Without a declaration that counts */
  notDeclared: number;
  /** Withdrawn */
  withdrawn: number;
};
  /** Accepted cars that would drop to the line, by car number */
  recalled: readonly {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** Rules marked `recall` that it does not meet, as declared and as measured at the line */
  because: readonly {
  /** Id of the rule */
  ruleId: string;
  /** What it judges */
  title: string;
  /** Where on the car */
  position?: string;
  /** What is wrong */
  message: string;
}[];
}[];
};

export type RunGroupView = {
  /** UUID */
  runGroupId: string;
  /** UUID */
  eventId: string;
  /** Name, unique in the event */
  name: string;
  /** Place in lists */
  order: number;
  /** When the group first goes on track */
  firstSessionAt: string;
  /** `false` after the event was moved: set a new first session */
  firstSessionOnEventDay: boolean;
  /** The rule set that judges this group */
  ruleSetId: string;
  /** The published version of it */
  ruleSetVersion: number;
  /** Overrides by name */
  parameters: Readonly<Record<string, {
  /** The value for this run group */
  value: number | string | boolean | (readonly string[]);
  /** Its unit; absent: the unit of the parameter */
  unit?: string;
}>>;
  /** Effects and rules that are different here */
  overlay: {
  /** Changed effects by rule id */
  effects: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
  /** Rules of this group */
  rules: readonly Readonly<Record<string, unknown>>[];
};
  /** Names the rules as they judge this group; changes when they do */
  rulesHash: string | null;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
};

export type SaveDraftInput = {
  /** Answers by item key; a positioned item holds its answers by position; null is not answered */
  answers: Readonly<Record<string, unknown>>;
};

/** RFC 9116 */
export type SecurityTxt = string;

export type SendBackInput = {
  /** Why it goes through the line again: driver and marshal read it */
  reason: string;
};

export type SentBackView = {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** What the gate says now */
  clearance: ClearanceView;
  /** UUID */
  ticketId: string;
  /** Place on the line, 1 is next */
  place: number;
};

export type SignOffInput = {
  /** What is decided */
  decision: "accept" | "accept-with-conditions" | "refuse";
  /** What was looked at and measured */
  checks: readonly ({
  /** Catalogue key */
  item: string;
  /** Where on the car, for an item with positions */
  position?: string;
  /** What was measured, in the form of a declaration; it wins over the declared one */
  value?: unknown;
  /** What was seen, where nothing is measured */
  result?: "ok" | "not-ok";
  /** A remark on this point */
  note?: string;
})[];
  /** Needed with accept-with-conditions, not possible otherwise */
  conditions?: readonly {
  /** What must be done */
  text: string;
  /** Past this instant the car is held until it is done */
  dueAt?: string;
}[];
  /** Needed with refuse: the driver reads it */
  note?: string;
  /** Needed when the car is accepted; unique per event, whatever zeros stand before a number in it */
  stickerNumber?: string;
  /** An earlier end than that of the last event day */
  validUntil?: string;
};

export type SignOffView = {
  /** UUID */
  signOffId: string;
  /** UUID */
  entryId: string;
  /** UUID */
  inspectionId: string;
  /** Exact text */
  carNumber: string;
  /** What was decided */
  decision: "accept" | "accept-with-conditions" | "refuse";
  /** After the measurements of the line */
  verdict: "barred" | "to-inspect" | "clean";
  /** Judged again with what was measured */
  findings: readonly Finding[];
  /** Conditions of the acceptance */
  conditions: readonly {
  /** Id of the condition */
  id: string;
  /** What must be done */
  text: string;
  /** Instant by which it must be done; past it the car is held */
  dueAt?: string;
}[];
  /** What the driver reads */
  note?: string;
  /** The sticker on the car */
  stickerNumber?: string;
  /** Instant, RFC 3339 in UTC */
  validFrom?: string;
  /** Exclusive */
  validUntil?: string;
  /** Who decided */
  signedBy: string;
  /** Instant, RFC 3339 in UTC */
  signedAt: string;
  /** What the gate says now */
  clearance: {
  admit: boolean;
  status: string;
  reason: string;
};
  /** To be shown with it */
  caution: string;
};

/** A compact JWS (RFC 7515) */
export type SignedGateList = string;

export type SigningKeys = {
  /** `kid` of the key that signs from now on */
  signs: string;
  /** The keys that verify, newest first */
  keys: readonly {
  /** Thumbprint of the key */
  kid: string;
  /** When it was made */
  createdAt: string;
  /** Since when it signs no more */
  retiredAt?: string;
  /** Until when it still verifies */
  publishedUntil?: string;
}[];
};

/** How far it can be trusted. `published`: the standard itself was read; `secondary`: read in a quotation or textbook; `derived`: arithmetic from stated inputs; `from-memory`: not verified, replace it where you know better; `common-practice`: what the trade does, there is no source */
export type Standing = "published" | "secondary" | "derived" | "from-memory" | "common-practice";

export type StartTrialInput = {
  /** Events whose declarations are judged, 1 to 50 */
  eventIds: readonly string[];
  /** A published version to try; absent: the draft as it is now */
  version?: number;
};

export type SubmitInspectionInput = {
  /** Absent: the saved draft is submitted */
  answers?: Readonly<Record<string, unknown>>;
  /** By an inspector at the line: who of the entry said all this. He types it and does not sign the car off */
  saidBy?: string;
};

export type TokenList = {
  /** Oldest first, expired and revoked ones included */
  tokens: readonly TokenView[];
  /** `cursor` of the next page; absent on the last one */
  next?: string;
};

export type TokenView = {
  /** UUID */
  tokenId: string;
  /** What the token may do */
  role: "organizer" | "chief" | "inspector" | "marshal" | "entrant";
  /** The person or device it was given to */
  holder: string;
  /** The one entry an entrant token is for */
  entryId?: string;
  /** The token that made it, or that made the code it was enrolled with */
  createdBy?: string;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** From this instant on it no longer works; absent: until it is revoked */
  expiresAt?: string;
  /** The events it is for; it works nowhere else */
  events?: readonly {
  /** UUID */
  eventId: string;
  /** Name of the event */
  name: string;
  /** From this instant on it no longer works there */
  endsAt: string;
}[];
  /** From this instant on it works nowhere, as its events stand now: it moves with them. Absent: until it is revoked */
  endsAt?: string;
  /** Of the staff, and from before tokens were for events: it works at every event until it is bound */
  unbound: boolean;
  /** Whether it works */
  state: "live" | "expired" | "revoked";
  /** Whether it was revoked */
  revoked: boolean;
  /** Instant, RFC 3339 in UTC */
  revokedAt?: string;
};

export type Trial = {
  /** UUID */
  trialId: string;
  /** UUID */
  ruleSetId: string;
  /** `done`: there is a result; `failed`: there is an error */
  state: "waiting" | "running" | "done" | "failed";
  /** Declarations judged so far */
  done: number;
  /** Declarations to judge; null until the work begins */
  total: number | null;
  /** Why it failed */
  error?: string;
  /** Who asked for it */
  requestedBy: string;
  /** Instant, RFC 3339 in UTC */
  requestedAt: string;
  /** Instant, RFC 3339 in UTC */
  startedAt?: string;
  /** Instant, RFC 3339 in UTC */
  finishedAt?: string;
  /** Events whose declarations are judged */
  eventIds: readonly string[];
  /** The rules that are tried; later changes of the draft do not change them */
  tried: {
  /** The published version; absent: the draft as it was */
  version?: number;
  /** SHA-256 (hex) of the document in the canonical form of RFC 8785 */
  contentHash: string;
};
  /** What the trial found; there when it is done */
  result?: TrialResult;
};

export type TrialList = {
  /** Newest first, without results */
  trials: readonly ({
  /** UUID */
  trialId: string;
  /** UUID */
  ruleSetId: string;
  /** `done`: there is a result; `failed`: there is an error */
  state: "waiting" | "running" | "done" | "failed";
  /** Declarations judged so far */
  done: number;
  /** Declarations to judge; null until the work begins */
  total: number | null;
  /** Why it failed */
  error?: string;
  /** Who asked for it */
  requestedBy: string;
  /** Instant, RFC 3339 in UTC */
  requestedAt: string;
  /** Instant, RFC 3339 in UTC */
  startedAt?: string;
  /** Instant, RFC 3339 in UTC */
  finishedAt?: string;
})[];
  /** Cursor of the next page */
  next?: string;
};

export type TrialResult = {
  /** Cars */
  totals: {
  /** Declarations judged */
  judged: number;
  /** Other verdict than before */
  flipped: number;
  /** Barred, and was not */
  newlyBarred: number;
  /** To inspect, and was barred or clean */
  newlyToInspect: number;
  /** Clean, and was not */
  newlyClean: number;
  /** Verdicts as they were given, without concessions */
  before: {
  /** Cars barred */
  barred: number;
  /** Cars the line must look at */
  'to-inspect': number;
  /** Cars with nothing to look at */
  clean: number;
};
  /** Verdicts under the rules tried, without concessions */
  after: {
  /** Cars barred */
  barred: number;
  /** Cars the line must look at */
  'to-inspect': number;
  /** Cars with nothing to look at */
  clean: number;
};
  /** Judged with a concession before; concessions count on neither side of the comparison */
  hadConcession: number;
  /** With answers that the catalogue of today cannot read: they count as not given */
  unreadable: number;
};
  /** Every rule in order; rules that judged no car too */
  rules: readonly {
  /** Id of the rule */
  ruleId: string;
  /** What it judges */
  title: string;
  /** On watch: counted, judges nobody */
  watched?: true;
  /** Not among the rules tried */
  gone?: true;
  /** Cars that meet it */
  met: number;
  /** Cars that do not, at one position or more */
  notMet: number;
  /** Cars that lack an answer to it */
  unanswerable: number;
  /** Of those not met, cars that were not so before */
  newlyNotMet: number;
  /** Of those unanswerable, cars that were not so before */
  newlyUnanswerable: number;
  /** Of those met, cars that did not meet it before */
  newlyMet: number;
  /** Cars it judged before and does not judge now */
  noLongerJudged: number;
  /** Flips it explains, alone or with others */
  flips: number;
  /** A few cars nearest to its limit */
  nearest: {
  /** Just inside, nearest first */
  met: readonly NearCase[];
  /** Just outside, nearest first */
  notMet: readonly NearCase[];
};
}[];
  /** Cars with another verdict, by event, run group and car number */
  flips: readonly VerdictFlip[];
  /** The cars nearest to a limit, over all rules */
  nearest: {
  /** Just inside, nearest first */
  met: readonly NearCase[];
  /** Just outside, nearest first */
  notMet: readonly NearCase[];
};
  /** What was cut; the numbers are always of all */
  truncated: {
  /** There are more flips than listed */
  flips: boolean;
  /** There are more values with a distance to a limit than listed */
  nearest: boolean;
};
  /** Changes of venues and run groups that the rules tried cannot take, at most 500; the cars were judged without */
  notApplied: readonly ({
  /** UUID */
  eventId: string;
  /** UUID */
  runGroupId: string;
  /** Name of the group */
  runGroup: string;
  /** Whose change it is */
  from: "venue" | "run-group";
  /** JSON Pointer into the changes of the venue or the group */
  pointer: string;
  /** Kind of fault, for programs */
  code: string;
  /** Why the rules tried cannot take it */
  detail: string;
})[];
};

export type UpdateEntryInput = {
  /** Exact text of 1 to 4 letters or digits; `7`, `07` and `007` are three cars */
  carNumber?: string;
  /** A run group of the event */
  runGroupId?: string;
  /** Who enters the car, and how to reach them */
  entrant?: {
  /** Who enters the car */
  name: string;
  /** The person's id in a list of the organizer's own, such as a licence number: the same person, the same id */
  personId?: string;
  /** For messages about this entry; seen by organizers and the entrant */
  email?: string;
  /** Seen by organizers and the entrant */
  phone?: string;
};
  /** Everybody named on the entry; none of them may sign the car off */
  people?: readonly ({
  /** Name */
  name: string;
  /** What the person does with this car */
  role: "driver" | "crew" | "preparer";
  /** The person's id in a list of the organizer's own, such as a licence number: the same person, the same id */
  personId?: string;
})[];
  /** Replaces the whole record of the car */
  vehicle?: VehicleInput;
  /** Another car, which is known already, runs under this number from now on */
  vehicleId?: string;
  /** Another car runs under this number from now on: its record */
  newVehicle?: VehicleInput;
};

export type UploadChecksInput = {
  /** 1 to 1000 checks, in any order */
  checks: readonly ({
  /** UUID that the device gave this check; sent again, it is the same check */
  clientId: string;
  /** What the marshal typed; compared exactly */
  carNumber: string;
  /** The run group asked for, if one was */
  runGroupId?: string;
  /** When, by the clock of the device */
  askedAt: string;
  /** What the device answered */
  admit: boolean;
  /** What the device answered; `cannot-tell` when its list was of no use */
  status: "clear" | "clear-with-conditions" | "no-declaration" | "barred" | "in-line" | "refused" | "held" | "expired" | "withdrawn" | "unknown" | "cannot-tell";
  /** `seq` of the list it answered from */
  snapshotSeq: number;
})[];
};

export type UploadedChecks = {
  /** Checks that were not known yet */
  new: number;
  /** Checks that were uploaded before; nothing about them was changed */
  known: number;
  /** Of the new ones, those that need a look: see the list of contradictions */
  contradictions: number;
};

export type ValueWithUnitInput = {
  /** The number */
  value: number;
  /** Its unit: any that converts to the one that a bare number has */
  unit: string;
};

export type VehicleInput = {
  /** Make, model and year as free text */
  description: string;
  /** As a marshal would say it */
  colour?: string;
  /** Mass with driver, kg */
  massKg?: number;
  /** Driven axles */
  drive?: "front" | "rear" | "all";
  /** Body */
  body?: "closed" | "open" | "targa";
  /** What drives the car */
  powertrain?: "combustion" | "hybrid" | "battery";
  /** Engine oil system */
  sump?: "wet" | "dry";
  /** Brake caliper kind per axle */
  caliper?: {
  front?: "fixed" | "floating";
  rear?: "fixed" | "floating";
};
  /** Brake rotor material per axle */
  rotor?: {
  front?: "iron" | "carbon";
  rear?: "iron" | "carbon";
};
  /** Bushing type per location; a location not named is asked about without assuming its type, `none` is not asked */
  bushing?: {
  'front-upper-arm'?: "rubber" | "urethane" | "spherical" | "none";
  'front-lower-arm'?: "rubber" | "urethane" | "spherical" | "none";
  'front-anti-roll-bar'?: "rubber" | "urethane" | "spherical" | "none";
  'rear-upper-arm'?: "rubber" | "urethane" | "spherical" | "none";
  'rear-lower-arm'?: "rubber" | "urethane" | "spherical" | "none";
  'rear-anti-roll-bar'?: "rubber" | "urethane" | "spherical" | "none";
  subframe?: "rubber" | "urethane" | "spherical" | "none";
  'differential-mount'?: "rubber" | "urethane" | "spherical" | "none";
};
  /** What cools the engine or motor */
  cooling?: "liquid" | "air";
  /** Dampers */
  damper?: {
  /** Can be serviced */
  rebuildable?: boolean;
  /** How hard they are used */
  use?: "club" | "professional";
};
  /** Driver restraint */
  restraint?: "three-point" | "harness";
  /** Straps of the harness; four have no crotch strap */
  harnessPoints?: 4 | 5 | 6;
  /** The clutch has a fluid reservoir */
  hydraulicClutch?: boolean;
  /** A differential with fluid of its own, apart from the gearbox */
  separateDifferential?: boolean;
  /** A fuel cell (bladder tank) is fitted */
  fuelCell?: boolean;
  /** The maker's wheel fastener torque, N·m */
  wheelNutTorqueNm?: number;
  /** Wheel stud or bolt diameter, mm */
  wheelStudDiameterMm?: number;
  /** Stamped minimum thickness, mm (iron) */
  rotorMinimumThicknessMm?: {
  FL?: number;
  FR?: number;
  RL?: number;
  RR?: number;
};
  /** Stamped minimum weight, g (carbon) */
  rotorMinimumWeightG?: {
  FL?: number;
  FR?: number;
  RL?: number;
  RR?: number;
};
  /** Placard cold tyre pressure, kPa gauge */
  coldPressurePlacardKpa?: {
  front?: number;
  rear?: number;
};
  /** Load per axle with driver, kg */
  axleLoadKg?: {
  front?: number;
  rear?: number;
};
  /** Working voltage of the traction battery, V */
  highVoltageV?: number;
  /** Recorded baseline the set-up record is compared with */
  baseline?: {
  /** Camber per wheel, degrees */
  camberDeg?: {
  FL?: number;
  FR?: number;
  RL?: number;
  RR?: number;
};
  /** Toe per wheel, mm, toe-in positive */
  toeMm?: {
  FL?: number;
  FR?: number;
  RL?: number;
  RR?: number;
};
  /** Caster per wheel, degrees */
  casterDeg?: {
  FL?: number;
  FR?: number;
  RL?: number;
  RR?: number;
};
  /** Corner weights, kg */
  cornerWeightKg?: {
  FL?: number;
  FR?: number;
  RL?: number;
  RR?: number;
};
  /** Ride height, mm */
  rideHeightMm?: {
  FL?: number;
  FR?: number;
  RL?: number;
  RR?: number;
};
};
};

export type VehicleRecords = {
  /** The vehicle */
  vehicleId: string;
  /** The record of the car as it is now, with its baseline */
  vehicle: Readonly<Record<string, unknown>>;
  /** Events for which the car was declared, newest first */
  events: readonly ({
  /** The event */
  eventId: string;
  /** Its name */
  event: string;
  /** Calendar day at the venue, YYYY-MM-DD */
  startsOn: string;
  /** Calendar day at the venue, YYYY-MM-DD */
  endsOn: string;
  /** The entry that was declared last */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** Its newest revision */
  inspectionId: string;
  /** Instant, RFC 3339 in UTC */
  submittedAt: string;
  /** What the line decided about it; null: nothing */
  decision: ("accept" | "accept-with-conditions" | "refuse") | null;
  /** Thicknesses and weights that wear: pads, rotors, tread */
  wear: readonly ({
  /** Catalogue key */
  item: string;
  /** Its question */
  label: string;
  /** Where on the car */
  position?: string;
  /** Part of an answer that has parts */
  field?: string;
  /** In the item's unit */
  value: number | string | boolean;
  /** Unit of a number */
  unit?: string;
  /** Who gave it; what was measured at the line stands for what was declared */
  by: "entrant" | "inspector";
})[];
  /** Days on which something was last changed or serviced, as declared */
  services: readonly ({
  /** Catalogue key */
  item: string;
  /** Its question */
  label: string;
  /** Where on the car */
  position?: string;
  /** Part of an answer that has parts */
  field?: string;
  /** In the item's unit */
  value: number | string | boolean;
  /** Unit of a number */
  unit?: string;
  /** Who gave it; what was measured at the line stands for what was declared */
  by: "entrant" | "inspector";
})[];
  /** Corner weights, alignment and ride height */
  setup: readonly ({
  /** Catalogue key */
  item: string;
  /** Its question */
  label: string;
  /** Where on the car */
  position?: string;
  /** Part of an answer that has parts */
  field?: string;
  /** In the item's unit */
  value: number | string | boolean;
  /** Unit of a number */
  unit?: string;
  /** Who gave it; what was measured at the line stands for what was declared */
  by: "entrant" | "inspector";
})[];
  /** The baseline of the vehicle record as it was then */
  baseline: Readonly<Record<string, unknown>> | null;
})[];
};

export type VenueInput = {
  /** Name of the circuit */
  name: string;
  /** IANA time zone; event days are days in this zone */
  timeZone: string;
  /** Length of a lap, m */
  lapLengthM?: number;
  /** In order of a lap */
  brakingZones?: readonly {
  /** For example a corner number */
  name?: string;
  /** Speed at the start of braking, km/h */
  fromKmh: number;
  /** Speed at the end of braking, km/h */
  toKmh: number;
}[];
  /** Highest speed reached, km/h */
  topSpeedKmh?: number;
  /** Sound limit of the venue */
  soundLimit?: {
  /** Limit, dB(A) */
  levelDb: number;
  /** Distance the limit is measured at, m */
  distanceM: number;
};
  /** Air temperature to plan for, °C */
  designAirTemperatureC?: number;
};

export type VenueOverlayInput = {
  /** Changed effects by rule id */
  effects?: Readonly<Record<string, {
  /** What the rule does here when it is not met */
  effect?: "bar" | "inspect" | "advise";
  /** `true`: counted here, judges nobody; `false`: judges here */
  watch?: boolean;
  /** Why it is different here */
  reason: string;
}>>;
  /** Further rules, judged after those of the rule set */
  rules?: readonly RuleInput[];
  /** Limits that are different here */
  parameters?: Readonly<Record<string, RuleParameterOverrideInput>>;
};

export type VenueOverlayList = {
  /** One per rule set */
  overlays: readonly {
  /** UUID */
  venueId: string;
  /** UUID */
  ruleSetId: string;
  /** Limits that are different here */
  parameters: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
  /** Changed effects by rule id */
  effects: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
  /** Rules of this venue */
  rules: readonly Readonly<Record<string, unknown>>[];
  /** Instant, RFC 3339 in UTC */
  updatedAt: string;
}[];
};

export type VenueOverlayView = {
  /** UUID */
  venueId: string;
  /** UUID */
  ruleSetId: string;
  /** Limits that are different here */
  parameters: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
  /** Changed effects by rule id */
  effects: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
  /** Rules of this venue */
  rules: readonly Readonly<Record<string, unknown>>[];
  /** The published version it was checked against */
  checkedAgainst: number;
  /** Instant, RFC 3339 in UTC */
  updatedAt: string;
};

export type VenuePreview = {
  /** Names this change of the zone; send it with the change */
  preview: string;
  /** The zone stays as it is, and so does every clearance */
  sameZone: boolean;
  /** The events of the venue that are not over */
  events: readonly ({
  /** UUID */
  eventId: string;
  /** Name of the event */
  name: string;
  /** Its days stay the same instants */
  sameDays: boolean;
  /** Accepted now */
  signedOff: number;
  /** Accepted for the whole event: would be so for the new days */
  follows: number;
  /** Accepted until an earlier end, which stays */
  keeps: number;
  /** Accepted until an earlier end, which would be before the new days: would not be admitted any more */
  ends: number;
  /** Would have to go through the line again: the event moved too far */
  lineAgain: number;
  /** Every accepted car, by car number */
  cars: readonly ({
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** What would become of it */
  outcome: "follows" | "keeps" | "ends" | "line-again";
  /** Until when the acceptance is valid now */
  before: string | null;
  /** Until when it would be; null where it would not admit */
  validUntil: string | null;
})[];
})[];
};

export type VenueReplacementInput = {
  /** Name of the circuit */
  name: string;
  /** IANA time zone; event days are days in this zone */
  timeZone: string;
  /** Length of a lap, m */
  lapLengthM?: number;
  /** In order of a lap */
  brakingZones?: readonly {
  /** For example a corner number */
  name?: string;
  /** Speed at the start of braking, km/h */
  fromKmh: number;
  /** Speed at the end of braking, km/h */
  toKmh: number;
}[];
  /** Highest speed reached, km/h */
  topSpeedKmh?: number;
  /** Sound limit of the venue */
  soundLimit?: {
  /** Limit, dB(A) */
  levelDb: number;
  /** Distance the limit is measured at, m */
  distanceM: number;
};
  /** Air temperature to plan for, °C */
  designAirTemperatureC?: number;
  /** Why, for the history of the events; needed when the zone moves days for which cars are signed off */
  reason?: string;
  /** `preview` that `POST …/preview` answered; needed in the same case */
  preview?: string;
};

export type VenueView = {
  /** UUID */
  venueId: string;
  /** Name of the circuit */
  name: string;
  /** IANA time zone; event days are days in this zone */
  timeZone: string;
  /** Length of a lap, m */
  lapLengthM?: number;
  /** In order of a lap */
  brakingZones: readonly {
  /** For example a corner number */
  name?: string;
  /** Speed at the start of braking, km/h */
  fromKmh: number;
  /** Speed at the end of braking, km/h */
  toKmh: number;
}[];
  /** Highest speed reached, km/h */
  topSpeedKmh?: number;
  /** Sound limit of the venue */
  soundLimit?: {
  /** Limit, dB(A) */
  levelDb: number;
  /** Distance the limit is measured at, m */
  distanceM: number;
};
  /** Air temperature to plan for, °C */
  designAirTemperatureC?: number;
};

export type VerdictFlip = {
  /** UUID */
  entryId: string;
  /** Exact text */
  carNumber: string;
  /** UUID */
  eventId: string;
  /** UUID */
  runGroupId: string;
  /** UUID */
  inspectionId: string;
  /** An inspector accepted the car with this declaration */
  accepted: boolean;
  /** Verdict that was given, without concessions */
  before: "barred" | "to-inspect" | "clean";
  /** Verdict it would get, without concessions */
  after: "barred" | "to-inspect" | "clean";
  /** The rules that explain it, in the order of the rules */
  because: readonly RuleChange[];
  /** Rules that explain it too and are not listed */
  moreChanges?: number;
};

export type WebhookAttemptView = {
  /** 1 on the first attempt */
  number: number;
  /** Instant, RFC 3339 in UTC */
  startedAt: string;
  /** Milliseconds until the answer, or until it was given up */
  durationMs: number;
  /** HTTP status of the answer; absent when there was none */
  status?: number;
  /** The first kilobyte of the answer */
  answer?: string;
  /** Why there was no answer */
  error?: string;
};

export type WebhookChangesInput = {
  /** Where messages are posted: https, and no address of a private network unless the server allows it */
  url?: string;
  /** What is told */
  types?: readonly ("inspection.submitted" | "entry.signed-off" | "entry.withdrawn" | "hold.placed" | "hold.lifted" | "condition.fell-due" | "concession.granted" | "concession.revoked" | "clearance.changed")[];
  /** What it is for; null: nothing is said */
  description?: string | null;
  /** Whether messages are sent. Turned off, what waits is cancelled */
  enabled?: boolean;
};

export type WebhookDeliveryList = {
  /** Newest first; finished ones are kept for 30 days */
  deliveries: readonly WebhookDeliveryView[];
  /** `cursor` of the next page; absent on the last one */
  next?: string;
};

export type WebhookDeliveryView = {
  /** UUID */
  deliveryId: string;
  /** `webhook-id` of every attempt; whoever has seen it has seen the message */
  messageId: string;
  /** Type of the message */
  type: string;
  /** How it stands */
  state: "pending" | "delivered" | "failed" | "cancelled";
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
  /** When it is tried next; only while it is pending */
  dueAt?: string;
  /** Instant, RFC 3339 in UTC */
  finishedAt?: string;
  /** What is sent, exactly */
  body: string;
  /** Oldest first */
  attempts: readonly WebhookAttemptView[];
};

export type WebhookList = {
  /** Oldest first */
  webhooks: readonly WebhookView[];
  /** `cursor` of the next page; absent on the last one */
  next?: string;
};

export type WebhookView = {
  /** UUID */
  webhookId: string;
  /** Where messages are posted */
  url: string;
  /** What is told */
  types: readonly string[];
  /** Only messages of this event; absent: of all events */
  eventId?: string;
  /** What it is for */
  description?: string;
  /** Whether messages are sent */
  enabled: boolean;
  /** Why it sends nothing; absent while it is enabled */
  disabledReason?: string;
  /** Instant, RFC 3339 in UTC */
  disabledAt?: string;
  /** Attempts that failed in a row */
  failures: number;
  /** When the receiver last took a message */
  lastSuccessAt?: string;
  /** Nothing is sent before: the receiver is slow, or asked to wait */
  pausedUntil?: string;
  /** Instant, RFC 3339 in UTC */
  createdAt: string;
};

export type WithdrawEntryInput = {
  /** For the history */
  reason?: string;
};

/** The keys that verify heads of histories */
export const getHistoryKeySet: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: KeySet };
}> = { method: 'GET', path: '/.well-known/history-keys.json' };

/** The keys that verify gate lists */
export const getKeySet: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: KeySet };
}> = { method: 'GET', path: '/.well-known/jwks.json' };

/** Whom to tell of a weakness */
export const getSecurityTxt: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Blob };
}> = { method: 'GET', path: '/.well-known/security.txt' };

/** Is the process alive? */
export const getHealth: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Alive };
}> = { method: 'GET', path: '/healthz' };

/** Is the process alive? */
export const getLiveness: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Alive };
}> = { method: 'GET', path: '/livez' };

/** Read what this process measures */
export const getMetrics: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Blob };
}> = { method: 'GET', path: '/metrics' };

/** Can the server do its work? */
export const getReadiness: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Ready };
}> = { method: 'GET', path: '/readyz' };

/** List the computations */
export const listCalculations: Operation<{
  params: undefined;
  query: undefined;
  headers: { 'if-none-match'?: string };
  body: undefined;
  answers: { 200: CalculationList; 304: undefined };
}> = { method: 'GET', path: '/v1/calculations' };

/** Wheel alignment against the baseline */
export const calculateAlignmentCompare: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** As measured now, per wheel */
  measured: {
  /** Front left */
  FL?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
  /** Front right */
  FR?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
  /** Rear left */
  RL?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
  /** Rear right */
  RR?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
};
  /** As recorded for the car, per wheel */
  baseline: {
  /** Front left */
  FL?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
  /** Front right */
  FR?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
  /** Rear left */
  RL?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
  /** Rear right */
  RR?: {
  /** Camber; negative leans in at the top; deg where no unit is given, -20° to 20° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of this wheel; toe-in positive; mm where no unit is given, -60 mm to 60 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster; deg where no unit is given, -15° to 30° */
  casterDeg?: number | ValueWithUnitInput;
};
};
  /** Changes up to this are none */
  tolerance?: {
  /** Camber (0.25 where absent); deg where no unit is given, 0° to 5° */
  camberDeg?: number | ValueWithUnitInput;
  /** Toe of one wheel (1 where absent); mm where no unit is given, 0 mm to 20 mm */
  toeMm?: number | ValueWithUnitInput;
  /** Caster (0.5 where absent); deg where no unit is given, 0° to 10° */
  casterDeg?: number | ValueWithUnitInput;
};
  /** The maker's total toe per axle, for the limit of road inspections */
  makerTotalToeMm?: {
  /** Front; mm where no unit is given, -30 mm to 30 mm */
  front?: number | ValueWithUnitInput;
  /** Rear; mm where no unit is given, -30 mm to 30 mm */
  rear?: number | ValueWithUnitInput;
};
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** `as-recorded`: everything could be compared and is within; `cannot-tell`: nothing changed, some unknown */
  verdict: "as-recorded" | "changed" | "cannot-tell";
  /** Every comparison */
  changes: readonly ({
  /** Wheel */
  wheel: "FL" | "FR" | "RL" | "RR";
  /** What was measured, with its unit */
  angle: "camberDeg" | "toeMm" | "casterDeg";
  /** Now */
  measured: number;
  /** As recorded */
  baseline: number;
  /** Now less recorded */
  change: number;
  /** The change is at most the tolerance */
  within: boolean;
})[];
  /** Known on one side only */
  unknown: readonly ({
  /** Wheel */
  wheel: "FL" | "FR" | "RL" | "RR";
  /** What */
  angle: "camberDeg" | "toeMm" | "casterDeg";
})[];
  /** Left against right, as measured */
  axles: {
  /** Front axle */
  front: {
  /** Both wheels added, mm; null where one is not known */
  totalToeMm: number | null;
  /** Left less right, degrees */
  camberDifferenceDeg: number | null;
  /** Left less right, degrees */
  casterDifferenceDeg: number | null;
  /** 1.5 times the maker's total toe, mm; null where none was given */
  toeLimitMm: number | null;
  /** Total toe within that limit; null where either is not known */
  toeWithinLimit: boolean | null;
};
  /** Rear axle */
  rear: {
  /** Both wheels added, mm; null where one is not known */
  totalToeMm: number | null;
  /** Left less right, degrees */
  camberDifferenceDeg: number | null;
  /** Left less right, degrees */
  casterDifferenceDeg: number | null;
  /** 1.5 times the maker's total toe, mm; null where none was given */
  toeLimitMm: number | null;
  /** Total toe within that limit; null where either is not known */
  toeWithinLimit: boolean | null;
};
};
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/alignment-compare' };

/** Brake heat */
export const calculateBrakeHeat: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Braking zones in the order of a lap */
  brakingZones: readonly ({
  /** For example a corner number */
  name?: string;
  /** Speed at the start of braking; km/h where no unit is given, 0 km/h to 500 km/h */
  fromKmh: number | ValueWithUnitInput;
  /** Speed at the end of braking; km/h where no unit is given, 0 km/h to 500 km/h */
  toKmh: number | ValueWithUnitInput;
})[];
  /** Lap time; this or the lap length is needed; s where no unit is given, 5 s to 1800 s */
  lapTimeS?: number | ValueWithUnitInput;
  /** Lap length; gives the lap time where that is not known; m where no unit is given, 100 m to 50000 m */
  lapLengthM?: number | ValueWithUnitInput;
  /** Laps of the session */
  laps?: number;
  /** Length of the session where the laps are not given, minutes */
  sessionMinutes?: number;
  /** Mass of the car with driver and fuel; kg where no unit is given, 50 kg to 5000 kg */
  massKg: number | ValueWithUnitInput;
  /** Deceleration in the zones, in g */
  decelerationG?: number;
  /** A stop that was measured; gives the deceleration */
  measuredStop?: {
  /** Speed before the stop; km/h where no unit is given, 1 km/h to 500 km/h */
  fromKmh: number | ValueWithUnitInput;
  /** Distance to standstill; m where no unit is given, 0.5 m to 5000 m */
  distanceM: number | ValueWithUnitInput;
};
  /** Part of the braking done by the front axle (brake balance), where it is known; a share from 0 to 1 */
  frontShare?: number;
  /** Part of the mass on the front axle at rest; a share from 0 to 1 */
  frontWeightShare?: number;
  /** Height of the centre of gravity; mm where no unit is given, 100 mm to 1500 mm */
  cgHeightMm?: number | ValueWithUnitInput;
  /** Wheelbase; mm where no unit is given, 1000 mm to 6000 mm */
  wheelbaseMm?: number | ValueWithUnitInput;
  /** Drag coefficient times frontal area, m² */
  dragAreaM2?: number;
  /** Density of the air, kg/m³ */
  airDensityKgM3?: number;
  /** Rolling resistance as a share of the weight */
  rollingCoefficient?: number;
  /** Temperature of the air; °C where no unit is given, -40 °C to 60 °C */
  ambientC?: number | ValueWithUnitInput;
  /** Temperature of the rotors at the start; °C where no unit is given, -40 °C to 800 °C */
  startC?: number | ValueWithUnitInput;
  /** Heat transfer to the air: still + factor · (speed in m/s) ^ exponent, in W/(m²·K) */
  convection?: {
  /** At standstill, W/(m²·K) */
  still?: number;
  /** At 1 m/s, W/(m²·K) */
  factor?: number;
  /** Power of the speed */
  exponent?: number;
};
  /** Rotor of one front wheel */
  front?: {
  /** Grey iron, or carbon fibre in carbon */
  material?: "iron" | "carbon";
  /** Mass of one rotor without its hat; kg where no unit is given, 0.3 kg to 60 kg */
  massKg?: number | ValueWithUnitInput;
  /** Area of one rotor that the air cools, vanes included, m² */
  areaM2?: number;
  /** Area of one rotor that radiates outwards, m² */
  radiatingAreaM2?: number;
  /** Emissivity of that area; a share from 0 to 1 */
  emissivity?: number;
  /** Part of the braking work at the wheel that heats the rotor; a share from 0 to 1 */
  rotorShare?: number;
  /** Specific heat of the rotor in ascending temperature, straight between the points; one point: constant */
  specificHeat?: readonly ({
  /** Temperature; °C where no unit is given, -50 °C to 2500 °C */
  atC: number | ValueWithUnitInput;
  /** Specific heat there, J/(kg·K) */
  jPerKgK: number;
})[];
};
  /** Rotor of one rear wheel */
  rear?: {
  /** Grey iron, or carbon fibre in carbon */
  material?: "iron" | "carbon";
  /** Mass of one rotor without its hat; kg where no unit is given, 0.3 kg to 60 kg */
  massKg?: number | ValueWithUnitInput;
  /** Area of one rotor that the air cools, vanes included, m² */
  areaM2?: number;
  /** Area of one rotor that radiates outwards, m² */
  radiatingAreaM2?: number;
  /** Emissivity of that area; a share from 0 to 1 */
  emissivity?: number;
  /** Part of the braking work at the wheel that heats the rotor; a share from 0 to 1 */
  rotorShare?: number;
  /** Specific heat of the rotor in ascending temperature, straight between the points; one point: constant */
  specificHeat?: readonly ({
  /** Temperature; °C where no unit is given, -50 °C to 2500 °C */
  atC: number | ValueWithUnitInput;
  /** Specific heat there, J/(kg·K) */
  jPerKgK: number;
})[];
};
  /** Mean braking power over a lap per mass of car from which each duty class begins */
  dutyThresholds?: {
  /** Medium from, W/kg; 20 where not given */
  medium?: number;
  /** Heavy from, W/kg; 35 where not given */
  heavy?: number;
  /** Severe from, W/kg; 50 where not given */
  severe?: number;
};
  /** How temperatures are turned into what is asked of fluid and pads */
  margins?: {
  /** Part of the rotor's rise above the air that reaches the fluid; 0.2 where not given; a share from 0 to 1 */
  fluidRiseShare?: number;
  /** Kept below the wet boiling point; 20 K where not given; K where no unit is given, 0 K to 200 K */
  fluidMarginK?: number | ValueWithUnitInput;
  /** Kept below the end of the pads' range; 50 K where not given; K where no unit is given, 0 K to 500 K */
  padMarginK?: number | ValueWithUnitInput;
};
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** The whole lap */
  lap: {
  /** Lap time, s */
  timeS: number;
  /** Length of the lap as the stretches add up, m */
  lengthM: number;
  /** Kinetic energy given up in the zones, MJ */
  kineticMJ: number;
  /** Taken by drag in the zones, MJ */
  dragMJ: number;
  /** Taken by rolling resistance in the zones, MJ */
  rollingMJ: number;
  /** Left for the brakes, MJ */
  brakeMJ: number;
  /** Braking power averaged over the lap per mass of car, W/kg */
  meanPowerWPerKg: number;
};
  /** Laps followed */
  laps: number;
  /** Part of the braking done by the front axle */
  frontShare: number;
  /** In the order of a lap */
  stops: readonly {
  /** As given */
  name?: string;
  /** km/h */
  fromKmh: number;
  /** km/h */
  toKmh: number;
  /** Time on the brakes, s */
  durationS: number;
  /** Energy for the brakes of all wheels, MJ; drag and rolling are taken off */
  brakeMJ: number;
  /** Heat into one rotor */
  rotorKJ: {
  /** Front, heat into one rotor, kJ */
  front: number;
  /** Rear, heat into one rotor, kJ */
  rear: number;
};
  /** Rise of a rotor that starts at the start temperature and loses nothing */
  adiabaticRiseK: {
  /** Front, K */
  front: number;
  /** Rear, K */
  rear: number;
};
  /** Rise in this stop in the last lap, losses counted */
  lastLapRiseK: {
  /** Front, K */
  front: number;
  /** Rear, K */
  rear: number;
};
}[];
  /** One front rotor */
  front: {
  /** Highest temperature, °C */
  peakC: number;
  /** Lap of the highest temperature */
  peakLap: number;
  /** Mean over the session, °C */
  meanC: number;
  /** Mean over the last lap, °C */
  lastLapMeanC: number;
  /** Highest temperature of each lap, °C */
  lapPeakC: readonly number[];
  /** Where the heat of one rotor went over the session */
  heatMJ: {
  /** From the brakes, MJ */
  in: number;
  /** Still in the rotor at the end, MJ */
  kept: number;
  /** Given to the air, MJ */
  convected: number;
  /** Radiated, MJ */
  radiated: number;
};
};
  /** One rear rotor */
  rear: {
  /** Highest temperature, °C */
  peakC: number;
  /** Lap of the highest temperature */
  peakLap: number;
  /** Mean over the session, °C */
  meanC: number;
  /** Mean over the last lap, °C */
  lastLapMeanC: number;
  /** Highest temperature of each lap, °C */
  lapPeakC: readonly number[];
  /** Where the heat of one rotor went over the session */
  heatMJ: {
  /** From the brakes, MJ */
  in: number;
  /** Still in the rotor at the end, MJ */
  kept: number;
  /** Given to the air, MJ */
  convected: number;
  /** Radiated, MJ */
  radiated: number;
};
};
  /** First lap from which the peaks of following laps differ by less than 2 K; absent: not reached */
  steadyFromLap?: number;
  /** Heat in less heat kept and lost, as a share of heat in; the larger rotor */
  balanceError: number;
  /** Proof that the steps are short enough */
  convergence: {
  /** Longest step while braking, s */
  brakingStepS: number;
  /** Longest step between stops, s */
  betweenStepS: number;
  /** Change of the peak when every step was halved, K */
  halvingChangeK: number;
};
  /** One at a time, all others as they are; the strongest first */
  sensitivity: readonly ({
  /** What was moved */
  name: string;
  /** Whether it is an assumption and was not given */
  assumed: boolean;
  /** By how much */
  change: "±10 %" | "±10 K";
  /** Change of the peak when it is lower; absent: that cannot be */
  lower?: {
  /** Front, K */
  front: number;
  /** Rear, K */
  rear: number;
};
  /** Change of the peak when it is higher; absent: that cannot be */
  higher?: {
  /** Front, K */
  front: number;
  /** Rear, K */
  rear: number;
};
})[];
  /** What this asks of fluid and pads */
  duty: {
  /** How hard the lap is on brakes */
  dutyClass: "light" | "medium" | "heavy" | "severe";
  /** Energy for the brakes of all wheels in a lap, MJ */
  energyPerLapMJ: number;
  /** Highest rotor temperature */
  estimatedPeakC: {
  /** Front, °C */
  front: number;
  /** Rear, °C */
  rear: number;
};
  /** Wet boiling point asked of the brake fluid, °C; an estimate */
  fluidWetBoilingPointNeededC: number;
  /** End of the pads' working range that is asked for; an estimate */
  padHighTemperatureNeededC: {
  /** Front, °C */
  front: number;
  /** Rear, °C */
  rear: number;
};
};
  /** Rotor temperatures over the session; columns of one length */
  series: {
  /** Seconds from the start */
  timeS: readonly number[];
  /** Lap, from 1 */
  lap: readonly number[];
  /** Front rotor, °C */
  frontC: readonly number[];
  /** Rear rotor, °C */
  rearC: readonly number[];
};
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/brake-heat' };

/** Height of the centre of gravity */
export const calculateCgHeight: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Wheelbase; mm where no unit is given, 1000 mm to 5000 mm */
  wheelbaseMm: number | ValueWithUnitInput;
  /** Front axle load, car level; kg where no unit is given, 1 kg to 4000 kg */
  frontKg: number | ValueWithUnitInput;
  /** Rear axle load, car level; kg where no unit is given, 1 kg to 4000 kg */
  rearKg: number | ValueWithUnitInput;
  /** The axle that is raised; the other stays on the scales */
  raised: "front" | "rear";
  /** Load of the axle that stays down, the other raised; kg where no unit is given, 1 kg to 4000 kg */
  stayingRaisedKg: number | ValueWithUnitInput;
  /** How far the axle is raised; give this or the angle; mm where no unit is given, 1 mm to 4000 mm */
  liftMm?: number | ValueWithUnitInput;
  /** Angle of the car, raised; give this or the lift; deg where no unit is given, 0° to 90° */
  angleDeg?: number | ValueWithUnitInput;
  /** Height of the front axle above the ground, loaded; mm where no unit is given, 100 mm to 600 mm */
  frontRadiusMm: number | ValueWithUnitInput;
  /** Height of the rear axle above the ground, loaded; mm where no unit is given, 100 mm to 600 mm */
  rearRadiusMm: number | ValueWithUnitInput;
  /** Track width, for the static stability factor; mm where no unit is given, 500 mm to 3000 mm */
  trackMm?: number | ValueWithUnitInput;
  /** What an axle reading may be off (1 where absent); kg where no unit is given, 0 kg to 50 kg */
  scaleResolutionKg?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Centre of gravity above the ground, mm */
  heightMm: number;
  /** How far it can be off from the scales alone, ± mm */
  uncertaintyMm: number;
  /** Angle of the car while raised, degrees */
  angleDeg: number;
  /** What the axle that stayed down gained, kg */
  gainKg: number;
  /** Centre of gravity behind the front axle, mm */
  behindFrontAxleMm: number;
  /** Half the track over the height; null without a track */
  staticStabilityFactor: number | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/cg-height' };

/** Coolant boiling and freezing point */
export const calculateCoolant: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Gauge pressure the cap is marked with; kPa where no unit is given, 0 kPa to 350 kPa */
  capKpa: number | ValueWithUnitInput;
  /** Glycol in the coolant; none for water */
  glycol?: "none" | "ethylene" | "propylene";
  /** Glycol in the coolant, by volume; % where no unit is given, 0 % to 100 % */
  glycolPercent?: number | ValueWithUnitInput;
  /** Boiling point at 1 atm from the container; °C where no unit is given, 95 °C to 220 °C */
  boilsAtSeaLevelC?: number | ValueWithUnitInput;
  /** Freezing point from a refractometer or the container; °C where no unit is given, -80 °C to 0 °C */
  freezesAtC?: number | ValueWithUnitInput;
  /** Hottest coolant seen or expected; °C where no unit is given, 0 °C to 200 °C */
  hottestC?: number | ValueWithUnitInput;
  /** Air pressure at the place, absolute and not reduced to sea level; kPa where no unit is given, 50 kPa to 110 kPa */
  atmosphereKpa?: number | ValueWithUnitInput;
  /** Altitude of the place, in place of the air pressure; m where no unit is given, -500 m to 5000 m */
  altitudeM?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Pressure in the system, kPa absolute */
  absoluteKpa: number;
  /** Boiling point of the coolant under the cap, °C */
  boilingC: number;
  /** The same, °F */
  boilingF: number;
  /** Boiling point of pure water under the cap, °C */
  waterBoilingC: number;
  /** Boiling point of the coolant at 1 atm without a cap, °C */
  boilingAtSeaLevelC: number;
  /** Boiling point of the coolant at this place when the cap does not hold, °C */
  boilingWithoutCapC: number;
  /** By the rule of 3 °F per psi, °F */
  ruleOfThumbF: number;
  /** Rule of thumb less the boiling point, °F; positive promises too much */
  ruleOfThumbErrorF: number;
  /** Freezing point, °C; null where the table ends or nothing is known */
  freezingC: number | null;
  /** Boiling point less the hottest coolant, °C; null where none is given */
  marginC: number | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/coolant' };

/** Glycol for a freezing point */
export const calculateCoolantMix: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Glycol to mix with water */
  glycol: "ethylene" | "propylene";
  /** Temperature the mix must not freeze above; °C where no unit is given, -80 °C to 0 °C */
  freezingC: number | ValueWithUnitInput;
  /** Volume of the cooling system; l where no unit is given, 0.5 l to 100 l */
  systemLitres?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Least glycol that protects to the temperature, % */
  leastPercent: number;
  /** Most glycol: above it the mix freezes earlier again, %; null if unknown */
  mostPercent: number | null;
  /** Least glycol in the system, l; null without its volume */
  leastLitres: number | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/coolant-mix' };

/** Corner weights */
export const calculateCornerWeights: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Reading of the scale under the front left wheel; kg where no unit is given, 1 kg to 2500 kg */
  FL: number | ValueWithUnitInput;
  /** Reading of the scale under the front right wheel; kg where no unit is given, 1 kg to 2500 kg */
  FR: number | ValueWithUnitInput;
  /** Reading of the scale under the rear left wheel; kg where no unit is given, 1 kg to 2500 kg */
  RL: number | ValueWithUnitInput;
  /** Reading of the scale under the rear right wheel; kg where no unit is given, 1 kg to 2500 kg */
  RR: number | ValueWithUnitInput;
  /** Mass of the car as recorded, in the same state; kg where no unit is given, 50 kg to 5000 kg */
  recordedMassKg?: number | ValueWithUnitInput;
  /** How far the total may be from the recorded mass (10 where absent); % where no unit is given, 0 % to 100 % */
  recordedMassTolerancePercent?: number | ValueWithUnitInput;
  /** Cross share wanted (50 where absent); % where no unit is given, 40 % to 60 % */
  targetCrossPercent?: number | ValueWithUnitInput;
  /** What a scale may be off, of its reading (1 where absent); % where no unit is given, 0 % to 10 % */
  scaleTolerancePercent?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** All four readings, kg */
  totalKg: number;
  /** Front axle, % of the total */
  frontPercent: number;
  /** Rear axle, % of the total */
  rearPercent: number;
  /** Left side, % of the total */
  leftPercent: number;
  /** Right side, % of the total */
  rightPercent: number;
  /** Front right + rear left, % of the total */
  crossPercent: number;
  /** How far the cross share can be off, ± percentage points */
  crossUncertaintyPercent: number;
  /** Diagonal front right + rear left, kg */
  frontRightRearLeftKg: number;
  /** Diagonal front left + rear right, kg */
  frontLeftRearRightKg: number;
  /** To reach the cross share wanted: kg onto front right and rear left, off the other two; negative: reverse */
  changePerWheelKg: number;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/corner-weights' };

/** Engine oil grade */
export const calculateEngineOilGrade: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Grade as printed on the container: 5W-40, 15W-50, SAE 40 */
  grade: string;
  /** Edition of SAE J300 to read it by */
  edition?: "1999" | "2015";
  /** Viscosity measured at 100 °C, mm²/s, to compare */
  kv100?: number;
  /** Lowest hot grade that is asked for, for example 40 */
  minimumHotGrade?: number;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Cold side; null where the grade has none */
  winter: {
  /** Winter grade, for example 15W */
  name: string;
  /** Cranking viscosity at most, mPa·s */
  crankingMax: number;
  /** Temperature of the cranking limit, °C */
  crankingC: number;
  /** Temperature at which it still pumps (60,000 mPa·s), °C */
  pumpingC: number;
} | null;
  /** Hot side; null where the grade has none */
  hot: {
  /** Hot grade, for example 50 */
  name: string;
  /** High-shear viscosity at 150 °C at least, mPa·s */
  hths150Min: number;
} | null;
  /** Viscosity at 100 °C at least, mm²/s */
  kv100Min: number;
  /** Viscosity at 100 °C below, mm²/s; null where the grade has no hot side */
  kv100Below: number | null;
  /** Hot grades whose range holds the measured viscosity */
  hotGradesOfKv100: readonly string[];
  /** The measured viscosity is within the grade; null where none was given */
  inGrade: boolean | null;
  /** Hot grade is at least the one asked for; null where none was given */
  meetsMinimum: boolean | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/engine-oil-grade' };

/** Fastener torque and preload */
export const calculateFastenerTorque: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Thread: M12x1.5, M12 (coarse), 3/8-16 or 1/2-20 */
  thread: string;
  /** Torque; give one of torque, preload or proof share; N·m where no unit is given, 0.1 N·m to 3000 N·m */
  torqueNm?: number | ValueWithUnitInput;
  /** Preload; N where no unit is given, 1 N to 1000000 N */
  preloadN?: number | ValueWithUnitInput;
  /** Preload as a share of the proof load; % where no unit is given, 1 % to 100 % */
  proofSharePercent?: number | ValueWithUnitInput;
  /** ISO 898-1 property class of a metric fastener */
  propertyClass?: "8.8" | "10.9" | "12.9";
  /** Proof load, where the class is not in the table; N where no unit is given, 1 N to 2000000 N */
  proofLoadN?: number | ValueWithUnitInput;
  /** State of the threads, decides the nut factor (dry where absent) */
  condition?: "dry" | "oiled" | "anti-seize" | "rusty";
  /** Nut factor K where it is known; a plain number where no unit is given, 0.05 to 0.6 */
  nutFactor?: number | ValueWithUnitInput;
  /** How far the preload can lie from the expected, ± (30 where absent); % where no unit is given, 0 % to 60 % */
  scatterPercent?: number | ValueWithUnitInput;
  /** Engaged length of thread; mm where no unit is given, 0 mm to 200 mm */
  engagedMm?: number | ValueWithUnitInput;
  /** Full turns of engagement; turns where no unit is given, 0 turns to 100 turns */
  turns?: number | ValueWithUnitInput;
  /** Engagement asked for, in diameters (1 where absent); a plain number where no unit is given, 0.3 to 3 */
  engagementNeeded?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** The thread as understood */
  thread: string;
  /** Tightening torque, N·m */
  torqueNm: number;
  /** Expected preload, N */
  preloadN: number;
  /** Preload at the low end of the scatter, N */
  preloadLowN: number;
  /** Preload at the high end of the scatter, N */
  preloadHighN: number;
  /** Proof load, N; null where it is not known */
  proofLoadN: number | null;
  /** Expected preload over proof load, % */
  proofSharePercent: number | null;
  /** `may-pass`: the high end of the scatter is past the proof load */
  againstProof: "below" | "may-pass" | "past" | "unknown";
  /** Engaged thread in diameters; null where it was not given */
  engagementDiameters: number | null;
  /** At least what is asked for; null where it was not given */
  engagementEnough: boolean | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/fastener-torque' };

/** Brake fluid class and boiling point */
export const calculateFluidClass: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Grade of FMVSS 116 or class of ISO 4925 */
  fluidClass: "DOT 3" | "DOT 4" | "DOT 5" | "DOT 5.1" | "ISO 3" | "ISO 4" | "ISO 5-1" | "ISO 6" | "ISO 7";
  /** Boiling points printed on the container */
  label?: {
  /** Boiling point of fresh fluid */
  dry?: {
  /** As printed in °C */
  c?: number;
  /** As printed in °F */
  f?: number;
};
  /** Boiling point of wet fluid */
  wet?: {
  /** As printed in °C */
  c?: number;
  /** As printed in °F */
  f?: number;
};
};
  /** Boiling point measured with a tester; °C where no unit is given, 60 °C to 400 °C */
  measuredC?: number | ValueWithUnitInput;
  /** Boiling point the venue and car ask for; °C where no unit is given, 60 °C to 450 °C */
  neededC?: number | ValueWithUnitInput;
  /** Dry minimum of the class, in place of ours; °C where no unit is given, 60 °C to 400 °C */
  minimumDryC?: number | ValueWithUnitInput;
  /** Wet minimum of the class, in place of ours; °C where no unit is given, 60 °C to 400 °C */
  minimumWetC?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Least boiling point of fresh fluid of the class, °C */
  minimumDryC: number;
  /** The same, °F */
  minimumDryF: number;
  /** Least boiling point of wet fluid of the class, °C */
  minimumWetC: number;
  /** The same, °F */
  minimumWetF: number;
  /** Most kinematic viscosity at −40 °C of the class, mm²/s */
  viscosityAtMinus40: number;
  /** Silicone fluid: mixes with no other class */
  silicone: boolean;
  /** Whether the label can be that of a fluid of this class */
  label: "not-given" | "plausible" | "below-class-minimum";
  /** What of the label is below the minimum of the class */
  belowMinimum: readonly ("dry" | "wet")[];
  /** Measured boiling point against the class: not below dry, between wet and dry, below wet */
  measured: "not-given" | "as-fresh" | "used" | "below-wet-minimum";
  /** Boiling point to plan with, °C: measured, else wet of the label, else of the class */
  boilsAtC: number;
  /** What that boiling point is taken from */
  boilsAtFrom: "measured" | "label-wet" | "class-wet-minimum";
  /** Boiling point less what is needed, °C; null where no need is given */
  marginC: number | null;
  /** Boils at what is needed or above, and measured or with a plausible label; null where no need is given */
  enough: boolean | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/fluid-class' };

/** Gear oil grade */
export const calculateGearOilGrade: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Grade as printed on the container: 75W-90, 80W-140, SAE 90 */
  grade: string;
  /** Edition of SAE J306 to read it by */
  edition?: "2019" | "before-2005";
  /** Viscosity measured at 100 °C, mm²/s, to compare */
  kv100?: number;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Winter grade, for example 75W */
  winter: string | null;
  /** Hot grade, for example 90 */
  hot: string | null;
  /** Viscosity at 100 °C at least, mm²/s */
  kv100Min: number;
  /** Viscosity at 100 °C below, mm²/s; null where there is no upper limit */
  kv100Below: number | null;
  /** Highest temperature of 150,000 cP, °C; null without a winter grade */
  coldC: number | null;
  /** Hot grade of the measured viscosity; null where none or not given */
  gradeOfKv100: string | null;
  /** The measured viscosity is within the grade; null where none was given */
  inGrade: boolean | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/gear-oil-grade' };

/** High-voltage isolation */
export const calculateHvIsolation: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Working voltage of the high-voltage bus; V where no unit is given, 1 V to 1500 V */
  workingVoltage: number | ValueWithUnitInput;
  /** dc, ac, or connected: both joined by conduction, as in a running drive */
  system: "dc" | "ac" | "connected";
  /** Of a connected system: the AC part is doubly insulated or robustly housed */
  acProtected?: boolean;
  /** Isolation resistance from a report or meter; Ω where no unit is given, 0 Ω to 100000000000 Ω */
  resistance?: number | ValueWithUnitInput;
  /** The two-step measurement by a trained person, instead of a resistance */
  readings?: {
  /** Ro: the known resistor; Ω where no unit is given, 1 Ω to 100000000 Ω */
  knownResistor: number | ValueWithUnitInput;
  /** Ub: voltage of the bus; V where no unit is given, 1 V to 1500 V */
  busVoltage: number | ValueWithUnitInput;
  /** U1: the larger voltage from a pole to the body; V where no unit is given, 0.1 V to 1500 V */
  poleVoltage: number | ValueWithUnitInput;
  /** U1′: the same with the resistor connected; V where no unit is given, 0.1 V to 1500 V */
  poleVoltageWithResistor: number | ValueWithUnitInput;
};
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Isolation resistance, Ω */
  resistanceOhm: number;
  /** Isolation resistance per volt of working voltage, Ω/V */
  ohmPerVolt: number;
  /** Least isolation, Ω/V */
  limitOhmPerVolt: number;
  /** Least isolation resistance at this working voltage, Ω */
  neededOhm: number;
  /** Whether the limit is met; false means do not touch, do not drive */
  isolated: boolean;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/hv-isolation' };

/** How long safety equipment is valid */
export const calculateLabelValidity: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** One or more labels; of a set, each strap has its own */
  labels: readonly ({
  /** Standard on the label */
  label: "FIA 8853/98" | "FIA 8854/98" | "FIA 8853-2016" | "SFI 16.1" | "SFI 16.2" | "SFI 16.5" | "SFI 16.6" | "Snell SA2025" | "Snell SA2020" | "Snell SA2015" | "Snell SA2010" | "Snell M2020" | "Snell M2015" | "FIA 8859-2024" | "FIA 8859-2015" | "FIA 8860-2018-ABP" | "FIA 8860-2018" | "FIA 8860-2010" | "ECE 22.06" | "ECE 22.05" | "FIA 8858-2010" | "SFI 38.1" | "FIA 8855-1999" | "FIA 8855-2021" | "FIA 8862-2009" | "SFI 39.1" | "SFI 39.2" | "factory" | "FIA FT3-1999" | "FIA FT5" | "SFI 27.1" | "FIA 8856-2018";
  /** What it is sewn to, for example shoulder-left */
  name?: string;
  /** Date of manufacture: a year, a year and month, or a date */
  madeOn?: string;
  /** Last date that the label itself names: a year, a year and month, or a date */
  notValidAfter?: string;
  /** Recertifications */
  recertifiedOn?: readonly string[];
  /** Years that the organizer counts, where sources disagree or the number is from memory */
  years?: number;
})[];
  /** A punched month ends on its first-day (default), its last-day or the end-of-year */
  monthReading?: "first-day" | "last-day" | "end-of-year";
  /** Whose lists count besides the label: club (default), international or label-only */
  acceptance?: "club" | "international" | "label-only";
  /** Last event day, YYYY-MM-DD at the venue */
  onDay?: string;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Each label, in the order given */
  labels: readonly ({
  /** The label */
  label: string;
  /** As given */
  name: string | null;
  /** Last good day, inclusive; null: no end date */
  lastDay: string | null;
  /** The rule that ends first */
  decidedBy: {
  /** What the rule says */
  rule: string;
  /** Last good day, inclusive; null: no end date */
  lastDay: string | null;
  /** limit ends the validity; advice is a recommendation */
  weight: "limit" | "advice";
  /** How far the rule can be trusted */
  standing: "published" | "secondary" | "derived" | "from-memory" | "common-practice";
  /** Where the rule comes from */
  source: string;
};
  /** Replacement is advised from the day after this one */
  advisedUntil: string | null;
  /** Whether it is good on the given day; null without a day */
  valid: boolean | null;
  /** Days from the given day to the last good day; 0 on it */
  daysLeft: number | null;
  /** Every rule that was applied */
  rules: readonly ({
  /** What the rule says */
  rule: string;
  /** Last good day, inclusive; null: no end date */
  lastDay: string | null;
  /** limit ends the validity; advice is a recommendation */
  weight: "limit" | "advice";
  /** How far the rule can be trusted */
  standing: "published" | "secondary" | "derived" | "from-memory" | "common-practice";
  /** Where the rule comes from */
  source: string;
})[];
})[];
  /** Last good day of all together: the earliest governs; null: no end date */
  lastDay: string | null;
  /** Index of the label that ends first; null: none ends */
  governing: number | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/label-validity' };

/** Waiting at the tech line and inspectors needed */
export const calculateLineStaffing: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Cars still to come */
  cars: number;
  /** They come at random over so many minutes from now; min where no unit is given, 1 min to 1440 min */
  arrivalMinutes: number | ValueWithUnitInput;
  /** Cars in line already (0 where absent) */
  waiting?: number;
  /** From now to the first session; min where no unit is given, 1 min to 1440 min */
  minutesToFirstSession: number | ValueWithUnitInput;
  /** Mean time for one car (8 where absent); min where no unit is given, 0.5 min to 240 min */
  serviceMinutes?: number | ValueWithUnitInput;
  /** Inspectors at work; where absent the number needed is taken */
  inspectors?: number;
  /** A wait that is too long (15 where absent); min where no unit is given, 0 min to 600 min */
  waitLimitMinutes?: number | ValueWithUnitInput;
  /** Share of cars that must be within it and in time (90 where absent); % where no unit is given, 50 % to 99.9 % */
  sharePercent?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Cars an hour */
  arrivalsPerHour: number;
  /** Inspectors who would be busy all the time (erlang) */
  load: number;
  /** Inspectors the figures are for */
  inspectors: number;
  /** Share of their time they inspect, % */
  utilisationPercent: number;
  /** Cars that have to wait at all, % */
  waitProbabilityPercent: number;
  /** Mean wait of all cars, minutes */
  meanWaitMinutes: number;
  /** Cars that wait longer than the limit, % */
  overLimitPercent: number;
  /** Cars in line on average */
  meanWaiting: number;
  /** When the inspectors are through with all cars if none stands idle, minutes */
  allThroughMinutes: number;
  /** Fewest inspectors */
  needed: {
  /** So that the line does not grow without end */
  toKeepUp: number;
  /** So that the share of cars waits no longer than the limit */
  forWaitLimit: number;
  /** No number below this can be through by the first session */
  forBacklog: number;
  /** So that the cars are through by the first session */
  toClear: number;
};
  /** The inspectors are at least those to clear and for the wait limit */
  enough: boolean;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/line-staffing' };

/** Engine oil level */
export const calculateOilLevel: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Fraction of the band between the marks: 0 lower mark, 1 upper mark */
  reading: number;
  /** The oil was fully warm */
  atOperatingTemperature?: boolean;
  /** Time between stopping the engine and reading; min where no unit is given, 0 min to 1440 min */
  minutesSinceShutdown?: number | ValueWithUnitInput;
  /** Engine oil system */
  sump?: "wet" | "dry";
  /** Oil between the two marks; l where no unit is given, 0.1 l to 10 l */
  bandLitres?: number | ValueWithUnitInput;
  /** Earliest time after shutdown to read; 5 where not given; min where no unit is given, 0 min to 1440 min */
  fromMinutes?: number | ValueWithUnitInput;
  /** Latest time after shutdown to read; 10 where not given; min where no unit is given, 0 min to 1440 min */
  toMinutes?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** The reading can be judged */
  valid: boolean;
  /** Why it cannot */
  doubts: readonly ("temperature-unknown" | "not-hot" | "time-unknown" | "too-soon" | "too-late")[];
  /** What the level says */
  says: "read-again" | "overfilled" | "below-minimum" | "low-when-hot" | "ok";
  /** Oil to add up to the upper mark, l, negative to drain; null without the band or with doubts */
  litresToUpperMark: number | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/oil-level' };

/** Brake pad forecast */
export const calculatePadForecast: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Pads to forecast */
  pads: readonly ({
  /** Wheel, and inner or outer pad */
  position: "FL.in" | "FL.out" | "FR.in" | "FR.out" | "RL.in" | "RL.out" | "RR.in" | "RR.out";
  /** Oldest first */
  history: readonly ({
  /** Friction material, backing plate excluded; mm where no unit is given, 0 mm to 40 mm */
  thicknessMm: number | ValueWithUnitInput;
  /** Sessions driven: see `counting` */
  sessions: number;
  /** This reading is the first of new pads */
  padsChanged?: boolean;
})[];
})[];
  /** `sessions` counts on from reading to reading, or counts those since the reading before */
  counting?: "cumulative" | "per-event";
  /** Sessions from the last reading to the end of the event */
  sessionsToCome: number;
  /** Least at the end; 2 mm where not given; mm where no unit is given, 0 mm to 40 mm */
  minimumMm?: number | ValueWithUnitInput;
  /** Braking energy of one wheel in a session; decides where there are no two readings of the pads */
  energyPerSessionMJ?: {
  /** One front wheel, MJ per session */
  front?: number;
  /** One rear wheel, MJ per session */
  rear?: number;
};
  /** Wear per energy at one wheel, mm/MJ; 0.02 where not given */
  wearMmPerMJ?: number;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Least friction material at the end, mm */
  minimumMm: number;
  /** Whether every pad given ends at or above the minimum */
  enough: boolean;
  /** The pad that reaches the minimum first */
  firstToWearOut: "FL.in" | "FL.out" | "FR.in" | "FR.out" | "RL.in" | "RL.out" | "RR.in" | "RR.out";
  /** In the order given */
  pads: readonly ({
  /** Wheel, and inner or outer pad */
  position: "FL.in" | "FL.out" | "FR.in" | "FR.out" | "RL.in" | "RL.out" | "RR.in" | "RR.out";
  /** At the last reading, mm */
  thicknessMm: number;
  /** Wear that the forecast uses, mm per session */
  mmPerSession: number;
  /** What decided the wear: the fastest of the ways that the readings allow, or the energy */
  method: "least-squares" | "worst-recent" | "resolution" | "energy";
  /** At the end of the event, mm */
  endThicknessMm: number;
  /** Whole sessions before the pad is below the minimum */
  sessionsLeft: number;
  /** Whether it ends at or above the minimum */
  enough: boolean;
  /** Whether it ends below the road-test floor of 1.5 mm */
  belowRoadTest: boolean;
  /** For a plot */
  series: {
  /** Readings of the pads that are on the car */
  measured: readonly {
  /** Sessions driven */
  session: number;
  /** Friction material, mm */
  thicknessMm: number;
}[];
  /** Straight from the last reading to the end of the event */
  forecast: readonly {
  /** Sessions driven */
  session: number;
  /** Friction material, mm */
  thicknessMm: number;
}[];
};
})[];
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/pad-forecast' };

/** Where the play of a wheel comes from */
export const calculatePlayDiagnosis: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Hands at 9 and 3 o'clock; leave out what was not checked */
  nineThree?: "none" | "felt";
  /** Play at 9 and 3 at the tyre, if measured; mm where no unit is given, 0 mm to 100 mm */
  nineThreeMm?: number | ValueWithUnitInput;
  /** Hands at 12 and 6 o'clock; leave out what was not checked */
  twelveSix?: "none" | "felt";
  /** Play at 12 and 6 at the tyre, if measured; mm where no unit is given, 0 mm to 100 mm */
  twelveSixMm?: number | ValueWithUnitInput;
  /** What the play did while a helper held the brake */
  brakeApplied?: "goes" | "stays";
  /** Where a helper saw the movement */
  seenAt?: "tie-rod-outer" | "tie-rod-inner" | "rack-mount" | "ball-joint-lower" | "ball-joint-upper" | "hub" | "bushing";
  /** Axle of the wheel; front when left out */
  axle?: "front" | "rear";
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** found: one part is named; narrow-down: several are left */
  status: "no-play" | "found" | "narrow-down" | "not-checked";
  /** Parts in the order to look at them */
  parts: readonly string[];
  /** What to do */
  text: string;
  /** Play at 9 and 3 above 6.35 mm (1/4 in); null when not measured */
  linkageOverLimit: boolean | null;
  /** Play at 12 and 6 above 3.175 mm (1/8 in); null when not measured */
  bearingOverLimit: boolean | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/play-diagnosis' };

/** Helmet clearance under the roll-over line */
export const calculateRollClearance: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Top of the main hoop */
  hoopTop: {
  /** Forward; mm where no unit is given, -5000 mm to 5000 mm */
  x: number | ValueWithUnitInput;
  /** Up; mm where no unit is given, -5000 mm to 5000 mm */
  z: number | ValueWithUnitInput;
};
  /** Top of the header or front hoop */
  front: {
  /** Forward; mm where no unit is given, -5000 mm to 5000 mm */
  x: number | ValueWithUnitInput;
  /** Up; mm where no unit is given, -5000 mm to 5000 mm */
  z: number | ValueWithUnitInput;
};
  /** Highest point of the helmet: driver seated, belted, helmet on */
  helmetTop: {
  /** Forward; mm where no unit is given, -5000 mm to 5000 mm */
  x: number | ValueWithUnitInput;
  /** Up; mm where no unit is given, -5000 mm to 5000 mm */
  z: number | ValueWithUnitInput;
};
  /** Least clearance; 50 mm when left out; mm where no unit is given, 0 mm to 500 mm */
  needed?: number | ValueWithUnitInput;
  /** Radius of the crown of the helmet; 140 mm when left out; mm where no unit is given, 0 mm to 300 mm */
  helmetRadius?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Smallest distance from the round of the helmet to the line, mm */
  clearanceMm: number;
  /** Line above the highest point of the helmet, measured straight up, mm */
  verticalMm: number;
  /** Slope of the line, degrees; negative falls to the front */
  slopeDeg: number;
  /** Least clearance, mm */
  neededMm: number;
  /** Whether the clearance is the needed one or more */
  enough: boolean;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/roll-clearance' };

/** Brake rotor check */
export const calculateRotorCheck: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Rotors to look at */
  rotors: readonly (({
  /** Wheel */
  position: "FL" | "FR" | "RL" | "RR";
  /** Grey iron */
  material: "iron";
  /** Thickness at the thinnest place of the swept face; mm where no unit is given, 0 mm to 80 mm */
  thicknessMm: number | ValueWithUnitInput;
  /** Minimum stamped on the rotor; mm where no unit is given, 0.1 mm to 80 mm */
  minimumThicknessMm?: number | ValueWithUnitInput;
  /** Worst crack found */
  cracks: "none" | "surface-checks" | "opening" | "to-edge";
}) | ({
  /** Wheel */
  position: "FL" | "FR" | "RL" | "RR";
  /** Carbon fibre in carbon or in ceramic */
  material: "carbon";
  /** Weight, clean and dry; g where no unit is given, 0 g to 40000 g */
  weightG: number | ValueWithUnitInput;
  /** Minimum weight stamped on the rotor; g where no unit is given, 1 g to 40000 g */
  minimumWeightG?: number | ValueWithUnitInput;
  /** Longest side of the largest chip at an edge or hole; 0 for none; mm where no unit is given, 0 mm to 200 mm */
  edgeChipsMm: number | ValueWithUnitInput;
}))[];
  /** Duty class of the venue; unknown counts as heavy */
  dutyClass?: "light" | "medium" | "heavy" | "severe";
  /** Largest chip allowed; 3 mm where not given; mm where no unit is given, 0 mm to 100 mm */
  edgeChipLimitMm?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** The strongest of all rotors: none, advise, inspect (the line looks), bar (do not drive) */
  effect: "none" | "advise" | "inspect" | "bar";
  /** In the order given */
  rotors: readonly ({
  /** Wheel */
  position: "FL" | "FR" | "RL" | "RR";
  /** The strongest of this rotor */
  effect: "none" | "advise" | "inspect" | "bar";
  /** Iron: thickness above the stamped minimum, mm */
  marginMm?: number;
  /** Carbon: weight above the stamped minimum, g */
  marginG?: number;
  /** One per thing looked at */
  findings: readonly ({
  /** What was looked at */
  what: "thickness" | "cracks" | "weight" | "edge-chips";
  /** What it asks for */
  effect: "none" | "advise" | "inspect" | "bar";
  /** In words */
  detail: string;
})[];
})[];
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/rotor-check' };

/** What is due, and when */
export const calculateServiceDue: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** The day to count to: the last event day: a date at the venue, or an instant together with timeZone */
  onDay: string;
  /** Time zone of the venue; needed where an instant is given */
  timeZone?: string;
  /** Fluids, dampers, extinguishers */
  services?: readonly ({
  /** What was serviced */
  kind: "engine-oil" | "brake-fluid" | "clutch-fluid" | "gearbox-fluid" | "differential-fluid" | "coolant" | "damper" | "extinguisher";
  /** Which one */
  name?: string;
  /** Last service: a date at the venue, or an instant together with timeZone */
  doneOn: string;
  /** Interval instead of the default, months */
  everyMonths?: number;
  /** The maker's own interval; the sooner one decides, months */
  makerMonths?: number;
  /** Of dampers; professional when left out */
  damperUse?: "club" | "professional";
  /** Of an extinguisher that cannot be refilled: made on, YYYY-MM-DD at the venue */
  disposableMadeOn?: string;
})[];
  /** Equipment with a label */
  labels?: readonly ({
  /** Standard on the label */
  label: "FIA 8853/98" | "FIA 8854/98" | "FIA 8853-2016" | "SFI 16.1" | "SFI 16.2" | "SFI 16.5" | "SFI 16.6" | "Snell SA2025" | "Snell SA2020" | "Snell SA2015" | "Snell SA2010" | "Snell M2020" | "Snell M2015" | "FIA 8859-2024" | "FIA 8859-2015" | "FIA 8860-2018-ABP" | "FIA 8860-2018" | "FIA 8860-2010" | "ECE 22.06" | "ECE 22.05" | "FIA 8858-2010" | "SFI 38.1" | "FIA 8855-1999" | "FIA 8855-2021" | "FIA 8862-2009" | "SFI 39.1" | "SFI 39.2" | "factory" | "FIA FT3-1999" | "FIA FT5" | "SFI 27.1" | "FIA 8856-2018";
  /** What it is sewn to, for example shoulder-left */
  name?: string;
  /** Date of manufacture: a year, a year and month, or a date */
  madeOn?: string;
  /** Last date that the label itself names: a year, a year and month, or a date */
  notValidAfter?: string;
  /** Recertifications */
  recertifiedOn?: readonly string[];
  /** Years that the organizer counts, where sources disagree or the number is from memory */
  years?: number;
})[];
  /** A punched month ends on its first-day (default), its last-day or the end-of-year */
  monthReading?: "first-day" | "last-day" | "end-of-year";
  /** Whose lists count besides the label: club (default), international or label-only */
  acceptance?: "club" | "international" | "label-only";
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** The day at the venue that was counted to */
  onDay: string;
  /** Services, then labels, in the order given */
  items: readonly ({
  /** Kind of service, or the equipment */
  what: string;
  /** As given, or the label */
  name: string | null;
  /** Last good day, inclusive; null: no end date */
  lastDay: string | null;
  /** Days to the last good day; 0 on it, negative when overdue */
  daysLeft: number | null;
  /** Whether the day is after the last good day */
  overdue: boolean;
  /** From the day after this one it is recommended */
  advisedUntil: string | null;
  /** The rule that comes first */
  decidedBy: {
  /** What the rule says */
  rule: string;
  /** Last good day, inclusive; null: no end date */
  lastDay: string | null;
  /** limit ends the validity; advice is a recommendation */
  weight: "limit" | "advice";
  /** How far the rule can be trusted */
  standing: "published" | "secondary" | "derived" | "from-memory" | "common-practice";
  /** Where the rule comes from */
  source: string;
};
  /** Every rule that was applied */
  rules: readonly ({
  /** What the rule says */
  rule: string;
  /** Last good day, inclusive; null: no end date */
  lastDay: string | null;
  /** limit ends the validity; advice is a recommendation */
  weight: "limit" | "advice";
  /** How far the rule can be trusted */
  standing: "published" | "secondary" | "derived" | "from-memory" | "common-practice";
  /** Where the rule comes from */
  source: string;
})[];
})[];
  /** Index of the item that is due first; null: none ends */
  next: number | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/service-due' };

/** Equivalent sound level */
export const calculateSoundAverage: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Readings at one place, each over the same time */
  levels: readonly (number | ValueWithUnitInput)[];
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Equivalent level Leq over all readings, dB(A) */
  equivalentDb: number;
  /** The loudest reading, dB(A): what a limit on the maximum is held against */
  loudestDb: number;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/sound-average' };

/** Sound level at the venue's distance */
export const calculateSoundLevel: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Level as read; dB(A) where no unit is given, 30 dB(A) to 160 dB(A) */
  level: number | ValueWithUnitInput;
  /** Distance of the microphone from the outlet or the line of the car; m where no unit is given, 0.1 m to 200 m */
  distance: number | ValueWithUnitInput;
  /** near-field (close to the tailpipe), drive-by or static */
  method: "near-field" | "drive-by" | "static";
  /** Distance that the limit of the venue is stated for; m where no unit is given, 0.1 m to 200 m */
  referenceDistance: number | ValueWithUnitInput;
  /** Limit of the venue at its distance; dB(A) where no unit is given, 30 dB(A) to 160 dB(A) */
  limit?: number | ValueWithUnitInput;
  /** Readings up to this distance are near-field; 3 m when left out; m where no unit is given, 0.5 m to 50 m */
  nearFieldWithin?: number | ValueWithUnitInput;
  /** Standard uncertainty of meter and place; 1.5 dB when left out; dB(A) where no unit is given, 0 dB(A) to 10 dB(A) */
  meterUncertainty?: number | ValueWithUnitInput;
  /** Standard uncertainty of both distances; 0.25 m when left out; m where no unit is given, 0 m to 10 m */
  distanceUncertainty?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Level at the reference distance, dB(A) */
  levelAtReferenceDb: number;
  /** False where the reading was taken at the reference distance */
  converted: boolean;
  /** Expanded uncertainty (two standard uncertainties), dB */
  uncertaintyDb: number;
  /** Limit less level, dB; negative when too loud; null without a limit */
  marginDb: number | null;
  /** Against the limit: below or above by more than the uncertainty, or too-close-to-say; null without a limit */
  verdict: ("below" | "above" | "too-close-to-say") | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/sound-level' };

/** Steering free play against the table */
export const calculateSteeringPlay: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Diameter of the steering wheel; mm where no unit is given, 150 mm to 700 mm */
  wheelDiameter: number | ValueWithUnitInput;
  /** How far the rim turns before the front wheels move; mm where no unit is given, 0 mm to 500 mm */
  play?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Most play at the rim by 49 CFR 570.7(a), mm */
  limitMm: number;
  /** The wheel is between two rows of the table; the straight line is our choice */
  interpolated: boolean;
  /** Limit of the row below, for who does not interpolate, mm */
  rowLimitMm: number;
  /** Whether the play is within limitMm; null when no play was given */
  within: boolean | null;
  /** Limit less play, mm; negative when it is too much */
  marginMm: number | null;
  /** What other road inspections allow: limits differ, so yours is a setting */
  elsewhere: readonly {
  /** The inspection */
  rule: string;
  /** Its limit for this wheel, mm at the rim */
  limitMm: number;
}[];
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/steering-play' };

/** Stopping distance and deceleration */
export const calculateStopDistance: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Speed at the start; km/h where no unit is given, 1 km/h to 400 km/h */
  speedKmh: number | ValueWithUnitInput;
  /** Distance until standstill; give this or the deceleration; m where no unit is given, 0.1 m to 5000 m */
  distanceM?: number | ValueWithUnitInput;
  /** Mean deceleration in g; give this or the distance; a plain number where no unit is given, 0.01 to 6 */
  decelerationG?: number | ValueWithUnitInput;
  /** Time at full speed before the brakes come on (0 where absent); s where no unit is given, 0 s to 5 s */
  reactionSeconds?: number | ValueWithUnitInput;
  /** Road stop test to compare with: from 20 mph within 30 ft (four-wheel brakes) or 40 ft */
  test?: "four-wheel-brakes" | "other-brakes";
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Mean deceleration, g */
  decelerationG: number;
  /** Distance until standstill, m */
  distanceM: number;
  /** Time on the brakes, s */
  brakingSeconds: number;
  /** What the road stop test asks for, g; null where none was named */
  neededG: number | null;
  /** At least that; null where none was named */
  meets: boolean | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/stop-distance' };

/** How long a suit protects */
export const calculateSuitProtection: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** TPP of the suit, cal/cm² */
  thermalProtectivePerformance: number;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Time to a second-degree burn in the test flame, s */
  secondsToBurn: number;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/suit-protection' };

/** From what the driver felt to where to look */
export const calculateSymptomTriage: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** What the driver felt: options of debrief.symptoms */
  symptoms: readonly string[];
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** stop: do not drive before it is found; look: before the next session; note: later */
  urgency: "stop" | "look" | "note";
  /** Points in the order to look at them */
  points: readonly ({
  /** Catalogue item */
  item: string;
  /** Its question */
  label: string;
  /** Positions to begin with; empty: all that apply */
  positions: readonly string[];
  /** Of the most urgent symptom that points here */
  urgency: "stop" | "look" | "note";
  /** Every reason to look here */
  reasons: readonly {
  /** The symptom */
  symptom: string;
  /** Why it points here */
  why: string;
}[];
})[];
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/symptom-triage' };

/** Treadwear grade */
export const calculateTreadwearGrade: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Projected tread life on the test course; mi where no unit is given, 0 mi to 300000 mi */
  projectedMiles: number | ValueWithUnitInput;
  /** Lowest grade the class allows, for example 200 */
  minimumGrade?: number;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Index before rounding */
  index: number;
  /** Treadwear grade, a multiple of 20 */
  grade: number;
  /** Grade is at least the minimum; null where no minimum is given */
  meetsMinimum: boolean | null;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/treadwear-grade' };

/** Tyre age */
export const calculateTyreAge: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Last four digits of the tyre identification number: week and year, 2324 is week 23 of 2024 */
  code: string;
  /** Day the age is asked for, at the venue */
  onDay: string;
  /** Age in years from which the tyre is looked at; 6 where not given */
  inspectFromYears?: number;
  /** Age in years from which the tyre is refused; 10 where not given */
  refuseFromYears?: number;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Week of manufacture, 1 to 53 */
  week: number;
  /** Year of manufacture */
  year: number;
  /** First day the tyre may have been made on, YYYY-MM-DD */
  madeEarliest: string;
  /** Last day the tyre may have been made on, YYYY-MM-DD */
  madeLatest: string;
  /** Whole months from the earliest day: the age that counts, months */
  ageMonths: number;
  /** Whole months from the latest day, not below 0, months */
  ageAtLeastMonths: number;
  /** Against the two age limits */
  standing: "within-limits" | "inspect" | "too-old";
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/tyre-age' };

/** Tyre pressure, cold and hot */
export const calculateTyrePressure: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Gauge pressure cold, to forecast the hot one; kPa where no unit is given, 0 kPa to 1500 kPa */
  coldKpa?: number | ValueWithUnitInput;
  /** Gauge pressure wanted hot, to find the cold one to set; kPa where no unit is given, 0 kPa to 1500 kPa */
  hotKpa?: number | ValueWithUnitInput;
  /** Temperature of the air in the tyre when cold; °C where no unit is given, -60 °C to 200 °C */
  coldC: number | ValueWithUnitInput;
  /** Temperature of the air in the tyre when hot; °C where no unit is given, -60 °C to 200 °C */
  hotC: number | ValueWithUnitInput;
  /** Air pressure at the place, absolute and not reduced to sea level; kPa where no unit is given, 50 kPa to 110 kPa */
  atmosphereKpa?: number | ValueWithUnitInput;
  /** Altitude of the place, in place of the air pressure; m where no unit is given, -500 m to 5000 m */
  altitudeM?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Gauge pressure cold, kPa */
  coldKpa: number;
  /** Gauge pressure hot, kPa */
  hotKpa: number;
  /** Gauge pressure cold, psi */
  coldPsi: number;
  /** Gauge pressure hot, psi */
  hotPsi: number;
  /** Change for 10 °C at the cold pressure, kPa */
  risePerTenDegreesKpa: number;
  /** Air pressure reckoned with, kPa absolute */
  atmosphereKpa: number;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/tyre-pressure' };

/** Tyre load index and speed symbol */
export const calculateTyreRating: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: {
  /** Load index and speed symbol from the sidewall: 91W, 91V XL, 94ZR, (95Y) */
  rating: string;
  /** Load on the axle the tyre is on, with driver; kg where no unit is given, 1 kg to 6000 kg */
  axleLoadKg: number | ValueWithUnitInput;
  /** Highest speed of the car at the venue; km/h where no unit is given, 1 km/h to 500 km/h */
  topSpeedKmh: number | ValueWithUnitInput;
  /** Load on the heavier wheel of that axle; half of the axle where not given; kg where no unit is given, 1 kg to 6000 kg */
  heavierWheelKg?: number | ValueWithUnitInput;
  /** Speed up to which a Y tyre carries its full load; 270 where not given; km/h where no unit is given, 200 km/h to 299 km/h */
  yFullUpToKmh?: number | ValueWithUnitInput;
  /** Mass of the whole car with driver, to check the axle load against; kg where no unit is given, 1 kg to 6000 kg */
  carKg?: number | ValueWithUnitInput;
};
  answers: { 200: {
  /** Name of the computation */
  name: string;
  /** What was worked out */
  result: {
  /** Load index (for single wheels) */
  loadIndex: number;
  /** Speed symbol */
  symbol: string;
  /** Speed the symbol stands for, km/h */
  symbolKmh: number;
  /** Made for more than that speed; ask the maker how much */
  openEnded: boolean;
  /** Load of the index, kg per tyre */
  ratedLoadKg: number;
  /** Share of that load at the speed, % */
  capacityPercent: number;
  /** Load the tyre carries at the speed, kg */
  capacityKg: number;
  /** Load on the tyre, kg */
  tyreLoadKg: number;
  /** The tyre carries its load at that speed */
  loadOk: boolean;
  /** The speed is within the symbol */
  speedOk: boolean;
};
  /** Every formula with the numbers put in */
  steps: readonly CalculationStep[];
  /** What the body did not say, and simplifications */
  assumptions: readonly CalculationAssumption[];
  /** Read before acting on the result */
  cautions: readonly string[];
  /** Where formulas, tables and limits come from */
  sources: readonly CalculationSource[];
  /** Belongs on everything that shows a result */
  caution: string;
} };
}> = { method: 'POST', path: '/v1/calculations/tyre-rating' };

/** Read the catalogue */
export const getCatalogue: Operation<{
  params: undefined;
  query: undefined;
  headers: { 'if-none-match'?: string };
  body: undefined;
  answers: { 200: Catalogue; 304: undefined };
}> = { method: 'GET', path: '/v1/catalogue' };

/** Read an own claim again */
export const getClaim: Operation<{
  params: { claimId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: ClaimView };
}> = { method: 'GET', path: '/v1/claims/{claimId}' };

/** Put the car back in its place */
export const putBackClaim: Operation<{
  params: { claimId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 204: undefined };
}> = { method: 'DELETE', path: '/v1/claims/{claimId}' };

/** Start the lease anew */
export const renewClaim: Operation<{
  params: { claimId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: LeaseView };
}> = { method: 'POST', path: '/v1/claims/{claimId}/renew' };

/** Decide on the car */
export const signOff: Operation<{
  params: { claimId: string };
  query: undefined;
  headers: { 'idempotency-key'?: string };
  body: SignOffInput;
  answers: { 201: SignOffView };
}> = { method: 'POST', path: '/v1/claims/{claimId}/sign-off' };

/** Read a concession, with its state and what the gate says of the car */
export const getConcession: Operation<{
  params: { concessionId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: ConcessionView };
}> = { method: 'GET', path: '/v1/concessions/{concessionId}' };

/** Approve a concession to a safety-critical rule, as the second person */
export const approveConcession: Operation<{
  params: { concessionId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: ConcessionView };
}> = { method: 'POST', path: '/v1/concessions/{concessionId}/approve' };

/** Take a concession back */
export const revokeConcession: Operation<{
  params: { concessionId: string };
  query: undefined;
  headers: undefined;
  body: RevokeConcessionInput;
  answers: { 200: ConcessionView };
}> = { method: 'POST', path: '/v1/concessions/{concessionId}/revoke' };

/** Make a one-time code for a device of the staff */
export const createEnrolment: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: CreateEnrolmentInput;
  answers: { 201: EnrolmentView };
}> = { method: 'POST', path: '/v1/enrolments' };

/** Trade a one-time code for a token */
export const redeemEnrolment: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: RedeemEnrolmentInput;
  answers: { 201: EnrolledToken };
}> = { method: 'POST', path: '/v1/enrolments/redeem' };

/** Read an entry with its clearance */
export const getEntry: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: EntryView };
}> = { method: 'GET', path: '/v1/entries/{entryId}' };

/** Change an entry */
export const updateEntry: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: UpdateEntryInput;
  answers: { 200: EntryView };
}> = { method: 'PATCH', path: '/v1/entries/{entryId}' };

/** Put a car on the line again */
export const backToLine: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: SendBackInput;
  answers: { 200: SentBackView };
}> = { method: 'POST', path: '/v1/entries/{entryId}/back-to-line' };

/** List the concessions of an entry, whatever has become of them */
export const listConcessions: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: {
  /** All that were granted */
  concessions: readonly Concession[];
} };
}> = { method: 'GET', path: '/v1/entries/{entryId}/concessions' };

/** Grant an exception to one rule for one entry */
export const grantConcession: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: GrantConcessionInput;
  answers: { 201: ConcessionView };
}> = { method: 'POST', path: '/v1/entries/{entryId}/concessions' };

/** Note that a condition is met */
export const completeCondition: Operation<{
  params: { entryId: string; conditionId: string };
  query: undefined;
  headers: undefined;
  body: CompleteConditionInput;
  answers: { 200: ChangedClearance };
}> = { method: 'POST', path: '/v1/entries/{entryId}/conditions/{conditionId}/done' };

/** Save the draft and read the findings so far */
export const saveDeclaration: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: SaveDraftInput;
  answers: { 200: DraftView };
}> = { method: 'PUT', path: '/v1/entries/{entryId}/declaration' };

/** Erase the people of an entry */
export const eraseEntry: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: EraseEntryInput;
  answers: { 200: ErasedEntry };
}> = { method: 'POST', path: '/v1/entries/{entryId}/erase' };

/** Read what applies to this car, the limits, what is saved and what is missing */
export const getForm: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: FormView };
}> = { method: 'GET', path: '/v1/entries/{entryId}/form' };

/** Read what happened to an entry */
export const getHistory: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: HistoryView };
}> = { method: 'GET', path: '/v1/entries/{entryId}/history' };

/** Hold a car */
export const placeHold: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: { 'idempotency-key'?: string };
  body: PlaceHoldInput;
  answers: { 201: HoldView };
}> = { method: 'POST', path: '/v1/entries/{entryId}/holds' };

/** List the submitted revisions */
export const listInspections: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: {
  /** All revisions */
  inspections: readonly InspectionView[];
} };
}> = { method: 'GET', path: '/v1/entries/{entryId}/inspections' };

/** Submit the declaration and read the verdict */
export const submitInspection: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: { 'idempotency-key'?: string };
  body: SubmitInspectionInput;
  answers: { 201: InspectionView };
}> = { method: 'POST', path: '/v1/entries/{entryId}/inspections' };

/** Read everything on record about the people of an entry */
export const exportPersonalData: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: PersonalData };
}> = { method: 'GET', path: '/v1/entries/{entryId}/personal-data' };

/** List the photos of an entry */
export const listPhotos: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: PhotoList };
}> = { method: 'GET', path: '/v1/entries/{entryId}/photos' };

/** Add a photo of an item */
export const addPhoto: Operation<{
  params: { entryId: string };
  query: { item: string; position?: string };
  headers: undefined;
  body: string | Blob;
  answers: { 200: PhotoView; 201: PhotoView };
}> = { method: 'POST', path: '/v1/entries/{entryId}/photos' };

/** Withdraw an entry */
export const withdrawEntry: Operation<{
  params: { entryId: string };
  query: undefined;
  headers: undefined;
  body: WithdrawEntryInput;
  answers: { 200: ChangedClearance };
}> = { method: 'POST', path: '/v1/entries/{entryId}/withdraw' };

/** List events */
export const listEvents: Operation<{
  params: undefined;
  query: { limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: EventList };
}> = { method: 'GET', path: '/v1/events' };

/** Create an event */
export const createEvent: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: EventInput;
  answers: { 201: EventView };
}> = { method: 'POST', path: '/v1/events' };

/** Read an event */
export const getEvent: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: EventView };
}> = { method: 'GET', path: '/v1/events/{eventId}' };

/** Change an event */
export const changeEvent: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: EventChangesInput;
  answers: { 200: EventView };
}> = { method: 'PATCH', path: '/v1/events/{eventId}' };

/** Check that the history of an event was not changed */
export const auditEvent: Operation<{
  params: { eventId: string };
  query: { seq?: number; hash?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: Audit };
}> = { method: 'GET', path: '/v1/events/{eventId}/audit' };

/** Prove that a later history begins with an earlier one */
export const proveHistoryHeads: Operation<{
  params: { eventId: string };
  query: { first: number; second?: number };
  headers: undefined;
  body: undefined;
  answers: { 200: HeadsProof };
}> = { method: 'GET', path: '/v1/events/{eventId}/audit/consistency' };

/** Prove that a row is in the history */
export const proveHistoryRow: Operation<{
  params: { eventId: string };
  query: { historyId?: string; signOffId?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: HistoryProof };
}> = { method: 'GET', path: '/v1/events/{eventId}/audit/proofs' };

/** List the entries of an event */
export const listEntries: Operation<{
  params: { eventId: string };
  query: { carNumber?: string; runGroupId?: string; limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: {
  /** Entries of this page */
  entries: readonly EntryView[];
  /** Cursor of the next page; absent on the last */
  next?: string;
} };
}> = { method: 'GET', path: '/v1/events/{eventId}/entries' };

/** Enter a car in a run group */
export const createEntry: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: CreateEntryInput;
  answers: { 201: EntryView };
}> = { method: 'POST', path: '/v1/events/{eventId}/entries' };

/** Download the entries of an event as CSV */
export const exportEntries: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Blob };
}> = { method: 'GET', path: '/v1/events/{eventId}/entries/export' };

/** Enter and change cars from a CSV file */
export const importEntries: Operation<{
  params: { eventId: string };
  query: { partial?: "true" | "false"; dryRun?: "true" | "false" };
  headers: undefined;
  body: string;
  answers: { 200: ImportReport; 202: ImportSummary };
}> = { method: 'POST', path: '/v1/events/{eventId}/entries/import' };

/** The answers for every entry of the event */
export const listGate: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: { 'if-none-match'?: string };
  body: undefined;
  answers: { 200: GateList; 304: undefined };
}> = { method: 'GET', path: '/v1/events/{eventId}/gate' };

/** Upload checks that a device made by itself */
export const uploadGateChecks: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: UploadChecksInput;
  answers: { 200: UploadedChecks };
}> = { method: 'POST', path: '/v1/events/{eventId}/gate/checks' };

/** Passes without a network that the server would not have given */
export const listGateContradictions: Operation<{
  params: { eventId: string };
  query: { limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: ContradictionList };
}> = { method: 'GET', path: '/v1/events/{eventId}/gate/contradictions' };

/** The signed list for a gate without a network */
export const getGateSnapshot: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: { 'if-none-match'?: string };
  body: undefined;
  answers: { 200: Blob; 304: undefined };
}> = { method: 'GET', path: '/v1/events/{eventId}/gate/snapshot' };

/** May this car go onto the track? */
export const lookUpCar: Operation<{
  params: { eventId: string; carNumber: string };
  query: { runGroupId?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: GateAnswer };
}> = { method: 'GET', path: '/v1/events/{eventId}/gate/{carNumber}' };

/** Read what was changed at an event */
export const getEventHistory: Operation<{
  params: { eventId: string };
  query: { limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: EventHistory };
}> = { method: 'GET', path: '/v1/events/{eventId}/history' };

/** List the imports of an event that were taken as a whole */
export const listImports: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: {
  /** Newest first, at most 20 */
  imports: readonly ImportSummary[];
} };
}> = { method: 'GET', path: '/v1/events/{eventId}/imports' };

/** Read the line in the order of turns */
export const getLine: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: LineView };
}> = { method: 'GET', path: '/v1/events/{eventId}/line' };

/** Take the next car, or the car with a number */
export const claimTicket: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: ClaimTicketInput;
  answers: { 201: ClaimView; 204: undefined };
}> = { method: 'POST', path: '/v1/events/{eventId}/line/claims' };

/** See what other days do to signed-off cars before an event is changed */
export const previewEvent: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: EventChangesInput;
  answers: { 200: EventPreview };
}> = { method: 'POST', path: '/v1/events/{eventId}/preview' };

/** Read how ready an event is: counts, common findings, who is missing, forecast of the line */
export const getEventReadiness: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: ReadinessView };
}> = { method: 'GET', path: '/v1/events/{eventId}/readiness' };

/** List the run groups of an event */
export const listRunGroups: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RunGroupList };
}> = { method: 'GET', path: '/v1/events/{eventId}/run-groups' };

/** Create a run group */
export const createRunGroup: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: undefined;
  body: RunGroupInput;
  answers: { 201: RunGroupView };
}> = { method: 'POST', path: '/v1/events/{eventId}/run-groups' };

/** Read a run group */
export const getRunGroup: Operation<{
  params: { eventId: string; runGroupId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RunGroupView };
}> = { method: 'GET', path: '/v1/events/{eventId}/run-groups/{runGroupId}' };

/** Change a run group */
export const changeRunGroup: Operation<{
  params: { eventId: string; runGroupId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: RunGroupChangesInput;
  answers: { 200: RunGroupView };
}> = { method: 'PATCH', path: '/v1/events/{eventId}/run-groups/{runGroupId}' };

/** See who would change before a run group is changed */
export const previewRunGroup: Operation<{
  params: { eventId: string; runGroupId: string };
  query: undefined;
  headers: undefined;
  body: RunGroupChangesInput;
  answers: { 200: RunGroupPreview };
}> = { method: 'POST', path: '/v1/events/{eventId}/run-groups/{runGroupId}/preview' };

/** Judge a run group anew under the rules it has now */
export const rejudgeRunGroup: Operation<{
  params: { eventId: string; runGroupId: string };
  query: undefined;
  headers: undefined;
  body: RejudgeInput;
  answers: { 202: RejudgementView };
}> = { method: 'POST', path: '/v1/events/{eventId}/run-groups/{runGroupId}/rejudgements' };

/** Follow what changes at an event, as it changes */
export const streamEvent: Operation<{
  params: { eventId: string };
  query: undefined;
  headers: { 'last-event-id'?: string };
  body: undefined;
  answers: { 200: Blob };
}> = { method: 'GET', path: '/v1/events/{eventId}/stream' };

/** Lift a hold */
export const liftHold: Operation<{
  params: { holdId: string };
  query: undefined;
  headers: undefined;
  body: LiftHoldInput;
  answers: { 200: HoldView };
}> = { method: 'POST', path: '/v1/holds/{holdId}/lift' };

/** Read how far an import is and what came of each row */
export const getImport: Operation<{
  params: { importId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Import };
}> = { method: 'GET', path: '/v1/imports/{importId}' };

/** Read a submitted revision with its findings */
export const getInspection: Operation<{
  params: { inspectionId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: InspectionView };
}> = { method: 'GET', path: '/v1/inspections/{inspectionId}' };

/** Read how a rule came to its findings, in words and in numbers */
export const explainFinding: Operation<{
  params: { inspectionId: string; ruleId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: ExplanationView };
}> = { method: 'GET', path: '/v1/inspections/{inspectionId}/findings/{ruleId}' };

/** Read what your own token is for */
export const getOwnToken: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: OwnToken };
}> = { method: 'GET', path: '/v1/own-token' };

/** Look at a photo */
export const getPhoto: Operation<{
  params: { photoId: string };
  query: undefined;
  headers: { 'if-none-match'?: string };
  body: undefined;
  answers: { 200: Blob; 304: undefined };
}> = { method: 'GET', path: '/v1/photos/{photoId}' };

/** Remove a photo */
export const removePhoto: Operation<{
  params: { photoId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 204: undefined };
}> = { method: 'DELETE', path: '/v1/photos/{photoId}' };

/** Read how far a re-judgement is and what came of each car */
export const getRejudgement: Operation<{
  params: { rejudgementId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RejudgementView };
}> = { method: 'GET', path: '/v1/rejudgements/{rejudgementId}' };

/** Check any rule set */
export const checkRuleSetDocument: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: RuleSetDocumentInput | string | Blob;
  answers: { 200: RuleSetCheck };
}> = { method: 'POST', path: '/v1/rule-set-checks' };

/** List rule sets */
export const listRuleSets: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RuleSetList };
}> = { method: 'GET', path: '/v1/rule-sets' };

/** Create a rule set */
export const createRuleSet: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: CreateRuleSetInput | string | Blob;
  answers: { 201: RuleSetView };
}> = { method: 'POST', path: '/v1/rule-sets' };

/** Read a draft */
export const getRuleSet: Operation<{
  params: { ruleSetId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RuleSetView };
}> = { method: 'GET', path: '/v1/rule-sets/{ruleSetId}' };

/** Replace a draft */
export const replaceRuleSet: Operation<{
  params: { ruleSetId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: ReplaceDraftInput | string | Blob;
  answers: { 200: RuleSetView };
}> = { method: 'PUT', path: '/v1/rule-sets/{ruleSetId}' };

/** Check a draft */
export const checkRuleSet: Operation<{
  params: { ruleSetId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RuleSetCheck };
}> = { method: 'POST', path: '/v1/rule-sets/{ruleSetId}/check' };

/** Publish a draft */
export const publishRuleSet: Operation<{
  params: { ruleSetId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: PublishRuleSetInput;
  answers: { 201: PublishedRuleSet };
}> = { method: 'POST', path: '/v1/rule-sets/{ruleSetId}/publish' };

/** Try rules on the declarations of events */
export const startTrial: Operation<{
  params: { ruleSetId: string };
  query: undefined;
  headers: undefined;
  body: StartTrialInput;
  answers: { 202: Trial };
}> = { method: 'POST', path: '/v1/rule-sets/{ruleSetId}/trial' };

/** List the trials of a rule set */
export const listTrials: Operation<{
  params: { ruleSetId: string };
  query: { limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: TrialList };
}> = { method: 'GET', path: '/v1/rule-sets/{ruleSetId}/trials' };

/** List published versions */
export const listRuleSetVersions: Operation<{
  params: { ruleSetId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RuleSetVersionList };
}> = { method: 'GET', path: '/v1/rule-sets/{ruleSetId}/versions' };

/** Read a published version */
export const getRuleSetVersion: Operation<{
  params: { ruleSetId: string; version: number };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RuleSetVersion };
}> = { method: 'GET', path: '/v1/rule-sets/{ruleSetId}/versions/{version}' };

/** Retire a published version */
export const retireRuleSetVersion: Operation<{
  params: { ruleSetId: string; version: number };
  query: undefined;
  headers: undefined;
  body: RetireRuleSetVersionInput;
  answers: { 200: RuleSetVersion };
}> = { method: 'POST', path: '/v1/rule-sets/{ruleSetId}/versions/{version}/retire' };

/** Read the rules that judge a run group, and where each value came from */
export const getResolvedRules: Operation<{
  params: { runGroupId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: ResolvedRules };
}> = { method: 'GET', path: '/v1/run-groups/{runGroupId}/resolved-rules' };

/** Sign gate lists with a new key */
export const rotateSigningKey: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: SigningKeys };
}> = { method: 'POST', path: '/v1/signing-keys/rotate' };

/** List tokens */
export const listTokens: Operation<{
  params: undefined;
  query: { limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: TokenList };
}> = { method: 'GET', path: '/v1/tokens' };

/** Mint a token */
export const mintToken: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: MintTokenInput;
  answers: { 201: MintedToken };
}> = { method: 'POST', path: '/v1/tokens' };

/** Revoke a token */
export const revokeToken: Operation<{
  params: { tokenId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 204: undefined };
}> = { method: 'DELETE', path: '/v1/tokens/{tokenId}' };

/** Say which events a token of the staff is for */
export const bindToken: Operation<{
  params: { tokenId: string };
  query: undefined;
  headers: undefined;
  body: BindTokenInput;
  answers: { 200: TokenView };
}> = { method: 'POST', path: '/v1/tokens/{tokenId}/bind' };

/** Read a trial */
export const getTrial: Operation<{
  params: { trialId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: Trial };
}> = { method: 'GET', path: '/v1/trials/{trialId}' };

/** Read what was measured and serviced on a car, event by event */
export const getVehicleRecords: Operation<{
  params: { vehicleId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: VehicleRecords };
}> = { method: 'GET', path: '/v1/vehicles/{vehicleId}/records' };

/** List venues */
export const listVenues: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: {
  /** All venues */
  venues: readonly VenueView[];
} };
}> = { method: 'GET', path: '/v1/venues' };

/** Create a venue */
export const createVenue: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: VenueInput;
  answers: { 201: VenueView };
}> = { method: 'POST', path: '/v1/venues' };

/** Read a venue */
export const getVenue: Operation<{
  params: { venueId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: VenueView };
}> = { method: 'GET', path: '/v1/venues/{venueId}' };

/** Replace a venue */
export const replaceVenue: Operation<{
  params: { venueId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: VenueReplacementInput;
  answers: { 200: VenueView };
}> = { method: 'PUT', path: '/v1/venues/{venueId}' };

/** List what a venue changes in rule sets */
export const listVenueOverlays: Operation<{
  params: { venueId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: VenueOverlayList };
}> = { method: 'GET', path: '/v1/venues/{venueId}/overlays' };

/** Read what a venue changes in a rule set */
export const getVenueOverlay: Operation<{
  params: { venueId: string; ruleSetId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: {
  /** UUID */
  venueId: string;
  /** UUID */
  ruleSetId: string;
  /** Limits that are different here */
  parameters: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
  /** Changed effects by rule id */
  effects: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
  /** Rules of this venue */
  rules: readonly Readonly<Record<string, unknown>>[];
  /** Instant, RFC 3339 in UTC */
  updatedAt: string;
} };
}> = { method: 'GET', path: '/v1/venues/{venueId}/overlays/{ruleSetId}' };

/** Write what a venue changes in a rule set */
export const replaceVenueOverlay: Operation<{
  params: { venueId: string; ruleSetId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: VenueOverlayInput;
  answers: { 200: VenueOverlayView };
}> = { method: 'PUT', path: '/v1/venues/{venueId}/overlays/{ruleSetId}' };

/** Take a venue’s changes to a rule set away */
export const deleteVenueOverlay: Operation<{
  params: { venueId: string; ruleSetId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: undefined;
  answers: { 204: undefined };
}> = { method: 'DELETE', path: '/v1/venues/{venueId}/overlays/{ruleSetId}' };

/** See what another time zone does to signed-off cars before a venue is replaced */
export const previewVenue: Operation<{
  params: { venueId: string };
  query: undefined;
  headers: undefined;
  body: VenueReplacementInput;
  answers: { 200: VenuePreview };
}> = { method: 'POST', path: '/v1/venues/{venueId}/preview' };

/** List webhooks */
export const listWebhooks: Operation<{
  params: undefined;
  query: { limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: WebhookList };
}> = { method: 'GET', path: '/v1/webhooks' };

/** Have messages sent */
export const createWebhook: Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: NewWebhookInput;
  answers: { 201: CreatedWebhook };
}> = { method: 'POST', path: '/v1/webhooks' };

/** Read a webhook */
export const getWebhook: Operation<{
  params: { webhookId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: WebhookView };
}> = { method: 'GET', path: '/v1/webhooks/{webhookId}' };

/** Change a webhook */
export const changeWebhook: Operation<{
  params: { webhookId: string };
  query: undefined;
  headers: { 'if-match'?: string };
  body: WebhookChangesInput;
  answers: { 200: WebhookView };
}> = { method: 'PATCH', path: '/v1/webhooks/{webhookId}' };

/** Remove a webhook */
export const deleteWebhook: Operation<{
  params: { webhookId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 204: undefined };
}> = { method: 'DELETE', path: '/v1/webhooks/{webhookId}' };

/** List the deliveries of a webhook */
export const listWebhookDeliveries: Operation<{
  params: { webhookId: string };
  query: { state?: "pending" | "delivered" | "failed" | "cancelled"; limit?: number; cursor?: string };
  headers: undefined;
  body: undefined;
  answers: { 200: WebhookDeliveryList };
}> = { method: 'GET', path: '/v1/webhooks/{webhookId}/deliveries' };

/** Send a message again */
export const replayWebhookDelivery: Operation<{
  params: { webhookId: string; deliveryId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 202: WebhookDeliveryView };
}> = { method: 'POST', path: '/v1/webhooks/{webhookId}/deliveries/{deliveryId}/replay' };

/** Give a webhook a new secret */
export const rotateWebhookSecret: Operation<{
  params: { webhookId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 200: RotatedSecret };
}> = { method: 'POST', path: '/v1/webhooks/{webhookId}/secret' };

/** Send a test message */
export const testWebhook: Operation<{
  params: { webhookId: string };
  query: undefined;
  headers: undefined;
  body: undefined;
  answers: { 202: WebhookDeliveryView };
}> = { method: 'POST', path: '/v1/webhooks/{webhookId}/test' };

import { z } from 'zod';
import { Id, InstantOut, PlainDateOut, text } from '../../http/frame/common-schemas.ts';
import { TallyView } from '../../http/views/finding-view.ts';

export const ERASED_EXAMPLE: ErasedEntry = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  erasedAt: '2026-07-01T08:00:00.000Z',
  photosRemoved: 3,
  mentions: [{ place: 'holds', count: 1 }],
  otherEntries: [],
};

export const PERSONAL_DATA_EXAMPLE: PersonalData = {
  exportedAt: '2026-06-20T08:00:00.000Z',
  event: {
    eventId: '019ab8f0-0000-7000-8000-0000000000b1',
    name: 'Alder Ridge club weekend',
    timeZone: 'Europe/Berlin',
    startsOn: '2026-06-13',
    endsOn: '2026-06-14',
    retentionDays: 365,
    erasedFrom: '2027-06-15',
  },
  entry: {
    entryId: '019ab8f0-0000-7000-8000-0000000000e1',
    carNumber: '42',
    runGroup: 'Novice',
    entrant: { name: 'Ines Haldorsen', email: 'ines@example.org' },
    people: [{ name: 'Ines Haldorsen', role: 'driver' }],
    vehicle: { description: 'Club coupé 2.0, 2014' },
    createdAt: '2026-06-06T08:12:00.000Z',
    erasedAt: null,
  },
  draft: null,
  declarations: [],
  decisions: { signOffs: [], conditions: [], holds: [], concessions: [] },
  history: [
    {
      seq: 1,
      at: '2026-06-06T08:12:00.000Z',
      action: 'entry.created',
      actor: { role: 'organizer' },
      data: { carNumber: '42' },
    },
  ],
  tokens: [],
  shops: [],
  photos: [],
  log: [],
  notifications: [],
  mails: [],
  mailsStoppedAt: null,
  gateLookups: [],
};

export const EraseEntry = z
  .strictObject({
    reason: text(300).describe('For the history, which keeps it: no names'),
    force: z.boolean().optional().describe('Also before the event is over, if the entry was withdrawn'),
  })
  .meta({ id: 'EraseEntry' });

export const ErasedEntry = z
  .object({
    entryId: Id,
    carNumber: z.string().describe('Exact text'),
    erasedAt: InstantOut.describe('When the people were erased first'),
    photosRemoved: z
      .int()
      .describe(
        'Photos that this request removed. Files in a folder are deleted within 31 days; an object store needs a rule of its own',
      ),
    mentions: z
      .array(
        z.object({
          place: z
            .string()
            .describe('`history`, `answers`, `vehicle`, `sign-offs`, `conditions`, `holds` or `concessions`'),
          count: z.int().describe('Records there'),
        }),
      )
      .describe('Free text of the entry that somebody wrote one of the erased names, addresses or numbers into'),
    otherEntries: z.array(Id).describe('Entries that name somebody of the same name: each is erased on its own'),
  })
  .meta({ id: 'ErasedEntry' });
export type ErasedEntry = z.infer<typeof ErasedEntry>;

const MaybeInstant = z.string().nullable().describe('Instant, RFC 3339 in UTC');
const Json = z.unknown().describe('As it was recorded');
const Words = z.string().describe('As it was written');
const MaybeWords = z.string().nullable().describe('As it was written');
const CarNumber = z.string().describe('Exact text');
const By = z
  .object({ role: z.string(), name: z.string().optional() })
  .describe('Who did it; by name only the people of this entry');

const EventPart = z
  .object({
    eventId: Id,
    name: z.string().describe('Name of the event'),
    timeZone: z.string().describe('IANA time zone of the venue'),
    startsOn: PlainDateOut,
    endsOn: PlainDateOut,
    retentionDays: z.int().describe('Days after the last event day for which personal data is kept'),
    erasedFrom: PlainDateOut.describe('From this day on the people are erased'),
  })
  .describe('The event');

const EntryPart = z
  .object({
    entryId: Id,
    carNumber: CarNumber,
    runGroup: z.string().describe('Name of the run group'),
    entrant: z
      .object({
        name: z.string(),
        personId: z.string().optional(),
        email: z.string().optional(),
        phone: z.string().optional(),
        language: z.string().optional(),
      })
      .describe('Who enters the car, and how to reach them'),
    people: z
      .array(
        z.object({
          name: z.string().describe('Name'),
          role: z.string().describe('What the person does'),
          personId: z.string().optional().describe("The person's id in the organizer's own list"),
        }),
      )
      .describe('Everybody named on the entry'),
    vehicle: Json,
    createdAt: InstantOut,
    erasedAt: MaybeInstant,
  })
  .describe('The entry');

const Declaration = z.object({
  inspectionId: Id,
  revision: z.int().describe('1 for the first submission'),
  cause: z.string().describe('`submitted`, or `rejudged`: the same answers under other rules'),
  submittedAt: InstantOut,
  submittedBy: By,
  answers: Json,
  vehicle: Json,
  verdict: z.string().describe('`barred`, `to-inspect` or `clean`'),
  tally: TallyView.describe('How many findings there were, by what they counted for'),
  findings: z
    .unknown()
    .describe('As they are kept: what was not met or had no answer; in what was judged earlier also what was met'),
});

const Decisions = z.object({
  signOffs: z
    .array(
      z.object({
        inspectionId: Id,
        signedAt: InstantOut,
        decision: z.string().describe('`accept`, `accept-with-conditions` or `refuse`'),
        checks: Json,
        note: MaybeWords,
        stickerNumber: MaybeWords,
        validFrom: MaybeInstant,
        validUntil: MaybeInstant,
      }),
    )
    .describe('Decisions at the line'),
  conditions: z
    .array(z.object({ text: Words, dueAt: MaybeInstant, doneAt: MaybeInstant, doneNote: MaybeWords }))
    .describe('Conditions of acceptances'),
  holds: z
    .array(z.object({ reason: Words, placedAt: InstantOut, liftedAt: MaybeInstant, liftReason: MaybeWords }))
    .describe('Holds, lifted ones too'),
  concessions: z
    .array(
      z.object({
        ruleId: z.string().describe('The one rule it covers'),
        reason: Words,
        condition: MaybeWords,
        grantedAt: InstantOut,
        expiresAt: InstantOut,
        revokedAt: MaybeInstant,
      }),
    )
    .describe('Concessions, revoked ones too'),
});

const HistoryRow = z.object({
  seq: z.int().describe('1 is the first'),
  at: InstantOut,
  action: z.string().describe('What happened, `noun.verb`'),
  actor: By,
  data: Json,
});

const TokenPart = z.object({
  tokenId: Id,
  holder: z.string().describe('The person it was given to'),
  createdAt: InstantOut,
  expiresAt: MaybeInstant,
  revokedAt: MaybeInstant,
});

const PhotoPart = z.object({
  photoId: Id,
  item: z.string().describe('Catalogue key of what it shows'),
  position: z.string().nullable().describe('Where on the car'),
  mediaType: z.string().describe('Type of the picture as it is kept'),
  width: z.int().describe('Pixels'),
  height: z.int().describe('Pixels'),
  bytes: z.int().describe('Size of the picture as it is kept'),
  contentHash: z.string().describe('SHA-256 of the picture as it is kept, hexadecimal'),
  uploadedAt: InstantOut,
  uploadedBy: By,
  removedAt: MaybeInstant,
});

const LogPart = z.object({
  logId: Id,
  kind: z.string().describe('What was written down'),
  session: z.string().nullable().describe('Number or name of the session'),
  at: InstantOut.describe('When it was measured or noticed'),
  content: Json,
  writtenAt: InstantOut,
  writtenBy: By,
});

const NotificationPart = z.object({
  kind: z.string().describe('What it told, `noun.verb`'),
  transport: z.string().describe('How it was sent'),
  createdAt: InstantOut,
  sentAt: MaybeInstant,
});

const MailPart = z.object({
  kind: z.string().describe('What it was about'),
  language: z.string().describe('In which it was written'),
  address: z.string().describe('Whom it was for'),
  subject: Words,
  text: Words,
  state: z.string().describe('What became of it'),
  createdAt: InstantOut,
  endedAt: MaybeInstant,
});

const GateLookup = z.object({
  at: InstantOut,
  admit: z.boolean().describe('Whether the car might go'),
  status: z.string().describe('Why, in one word'),
});

export const PersonalData = z
  .object({
    exportedAt: InstantOut,
    event: EventPart,
    entry: EntryPart,
    draft: z.object({ answers: Json, updatedAt: InstantOut }).nullable().describe('Saved, not necessarily submitted'),
    declarations: z.array(Declaration).describe('Submitted revisions, oldest first'),
    decisions: Decisions.describe('What the staff decided'),
    history: z.array(HistoryRow).describe('What happened to the entry, oldest first'),
    tokens: z.array(TokenPart).describe('Without the tokens themselves, of which the server has only hashes'),
    shops: z
      .array(
        z.object({
          shop: z.string().describe('As the owner called it'),
          areas: z.array(z.string()).describe('What it was given; empty: all of the car'),
          createdAt: InstantOut,
          takenAt: MaybeInstant,
          endedAt: MaybeInstant,
          unsigned: Json,
          signed: z
            .array(z.object({ signedAt: InstantOut, answers: Json }))
            .describe('What it signed, without the name of who did'),
        }),
      )
      .describe('Shops that the entry was given to'),
    photos: z.array(PhotoPart).describe('The pictures are at `/v1/photos/{photoId}` until they are removed'),
    log: z.array(LogPart).describe('What was written down after sessions, oldest first'),
    notifications: z.array(NotificationPart).describe('What the entrant was told'),
    mails: z.array(MailPart).describe('Messages that were written, oldest first'),
    mailsStoppedAt: MaybeInstant.describe('When the entrant ended messages'),
    gateLookups: z.array(GateLookup).describe('When the gate was asked about this number at the event'),
  })
  .meta({ id: 'PersonalData' });
export type PersonalData = z.infer<typeof PersonalData>;

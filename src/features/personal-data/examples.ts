import type { ErasedEntry, PersonalData } from './schemas.ts';

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
  photos: [],
  notifications: [],
  gateLookups: [],
};

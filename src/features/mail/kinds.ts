/** What entrants are written, each with a text of its own. */
export const MAIL_KINDS = [
  'link',
  'receipt',
  'reminder',
  'line-time',
  'signed',
  'hold',
  'lift',
  'voided',
  'expires',
  'wear',
  'note',
] as const;
export type MailKind = (typeof MAIL_KINDS)[number];

/** What a person orders for many; the others are written when something happens, or by the clock. */
export const ORDERED_KINDS = ['reminder', 'line-time', 'note'] as const;

export const LANGUAGES = ['en', 'de'] as const;
export type Language = (typeof LANGUAGES)[number];

/** The kind of message for something that happened; undefined: nothing is written. */
export function kindOf(happened: string): MailKind | undefined {
  return BY_ACTION[happened];
}

const BY_ACTION: Readonly<Record<string, MailKind>> = {
  'inspection.submitted': 'receipt',
  'entry.signed-off': 'signed',
  'hold.placed': 'hold',
  'hold.lifted': 'lift',
  'declaration.voided': 'voided',
};

/** Words in braces that each kind can hold; every kind has the first ones. */
const COMMON = ['name', 'number', 'car', 'event', 'days', 'group', 'closes', 'firstSession', 'place'] as const;
const OWN: Readonly<Record<MailKind, readonly string[]>> = {
  link: ['link'],
  receipt: ['verdict', 'verdictShort', 'fixes', 'submitted'],
  reminder: [],
  'line-time': [],
  signed: ['decision', 'decisionShort', 'conditions'],
  hold: ['reason'],
  lift: ['gate'],
  voided: [],
  expires: ['until'],
  wear: ['wear'],
  note: [],
};
export const wordsIn = (kind: MailKind): readonly string[] => [...COMMON, ...OWN[kind]];

/** After which a stop by the person is heeded too: what is ordered or written by the clock. What happened to a car is told. */
export const STOPPABLE: ReadonlySet<MailKind> = new Set<MailKind>(['reminder', 'line-time', 'note', 'wear', 'expires']);

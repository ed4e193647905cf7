import unhomoglyph from 'unhomoglyph';

/**
 * Who may do what is decided by one of these roles; `owner` has the link of a car, and nothing but that car; `shop` what
 * owners gave it of their entries.
 */
export const ROLES = ['organizer', 'chief', 'inspector', 'marshal', 'entrant', 'owner', 'shop'] as const;
/** Those that an organizer mints; the link of a car is made at the car, that of a shop by the shop itself. */
export const MINTED_ROLES = ['organizer', 'chief', 'inspector', 'marshal', 'entrant'] as const;
export type Role = (typeof ROLES)[number];

/** Everybody who works for the event. */
export const STAFF: readonly Role[] = ['organizer', 'chief', 'inspector', 'marshal'];
/** Who may sign cars off at the line. */
export const INSPECTORS: readonly Role[] = ['chief', 'inspector'];
/** Whose tokens are for named events and end with them. */
export const OF_EVENTS: readonly Role[] = ['chief', 'inspector', 'marshal'];

/** Who asks: the bearer of a token. `entryId` is set exactly for entrants, who see nothing but that entry. */
export interface Actor {
  tokenId: string;
  role: Role;
  /** the person or device the token was given to */
  name: string;
  /** the organizer's own id of that person, as on entries */
  personId?: string | undefined;
  entryId?: string | undefined;
  /** set exactly for owners: the car of the link */
  vehicleId?: string | undefined;
  /** set exactly for shops: the one that the token is of */
  shopId?: string | undefined;
  /** the events that the token is for and that are not over; undefined: all (organizers, tokens from before) */
  eventIds?: readonly string[] | undefined;
}

/** Whether an event is there for whoever asks. */
export function reachesEvent({ eventIds }: Pick<Actor, 'eventIds'>, eventId: string): boolean {
  return eventIds === undefined || eventIds.includes(eventId.toLowerCase());
}

/** Time itself: nobody's token, and no organizer. */
export interface SystemActor {
  tokenId: string;
  role: 'clock';
  name: string;
}

/** What time does by itself (a lease that ran out, a condition that fell due) is recorded under this actor. */
export const SYSTEM_ACTOR: SystemActor = {
  tokenId: '00000000-0000-7000-8000-000000000000',
  role: 'clock',
  name: 'clock',
};

/**
 * Folds a person's name so that the same person written twice compares equal: Unicode NFKC, no invisible characters,
 * lower case, single spaces for spaces and punctuation of any kind. It decides conflicts of interest, so it must rather
 * match once too often than once too rarely.
 */
export function personKey(name: string): string {
  return name
    .normalize('NFKC')
    .replace(/\p{Cf}+/gu, '')
    .toLowerCase()
    .replace(/[\s\p{P}]+/gu, ' ')
    .trim();
}

/** A person as somebody named him; the id is the organizer's own. */
export interface NamedPerson {
  name: string;
  personId?: string | null | undefined;
}

/**
 * What a text looks like: the skeleton of UTS 39, by the confusables of Unicode 13.0 as the package `unhomoglyph` has
 * them. Letters that look the same have one skeleton, whatever script they are of.
 */
function skeleton(text: string): string {
  const visible = text.normalize('NFD').replace(/\p{Default_Ignorable_Code_Point}+/gu, '');
  return unhomoglyph(visible).normalize('NFD');
}

/**
 * The keys of a name. Capitals look alike where small letters do not (В and B, в and b) and the other way round, so a
 * name is taken as written, in small letters and in capitals. I, i, l and 1 are one, as they are in many typefaces.
 */
function keysOf(name: string): string[] {
  const seen = name.normalize('NFKC').replace(/[\p{Cf}\p{Default_Ignorable_Code_Point}]+/gu, '');
  const looks = [seen, seen.toLowerCase(), seen.toUpperCase()].map((written) =>
    personKey(skeleton(written)).replaceAll('i', 'l'),
  );
  return [personKey(name), personKey(seen), ...looks];
}

const idKey = (personId: string): string => personId.normalize('NFKC').toLowerCase();

/**
 * Whether two may be one person: one id, or names that are or look the same. It decides conflicts of interest, so it
 * says yes once too often rather than once too rarely: two ids do not make two people of one name.
 */
export function maybeSamePerson(one: NamedPerson, other: NamedPerson): boolean {
  if (one.personId && other.personId && idKey(one.personId) === idKey(other.personId)) return true;
  const keys = new Set(keysOf(one.name));
  return keysOf(other.name).some((key) => keys.has(key));
}

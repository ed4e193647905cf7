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

import type { MintTokenInput } from '../../api/operations.ts';
import { given } from '../parts/office-context.ts';

export type Role = MintTokenInput['role'];

/** Whose access is for named events and ends with them. */
export const isOfEvents = (role: Role): boolean => role === 'chief' || role === 'inspector' || role === 'marshal';

/** What says that access of the staff is for the event of the office; nothing for those who have none. */
export const forEvent = (role: Role, eventId: string): { eventIds?: string[] } =>
  isOfEvents(role) ? { eventIds: [eventId] } : {};

const PAGES: Record<Role, string> = {
  organizer: 'office',
  chief: 'office',
  inspector: 'line',
  marshal: 'gate',
  entrant: 'garage',
};

/** The link that opens a role's page with its access; behind `#`, which a browser sends to nobody. */
export const linkFor = (role: Role, token: string): string =>
  `${location.origin}/${PAGES[role]}#${encodeURIComponent(token)}`;

/** The id of a person of the staff, where one was given: entries that name it are the own cars. */
export function personIdIn({ personId }: { personId: string }): { personId?: string } {
  const id = given(personId);
  return id === undefined ? {} : { personId: id };
}

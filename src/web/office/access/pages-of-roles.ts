import type { MintTokenInput } from '../../api/operations.ts';

export type Role = MintTokenInput['role'];

const PAGES: Record<Role, string> = {
  organizer: 'office',
  chief: 'office',
  inspector: 'line',
  marshal: 'gate',
  entrant: 'garage',
};

/** The link that opens a role's page with its access; behind `#`, which a browser sends to nobody. */
export const linkFor = (role: Role, token: string): string => `${location.origin}/${PAGES[role]}#${token}`;

import { createContext } from 'preact';
import { useContext } from 'preact/hooks';
import type { Desk } from './desk.ts';
import type { Sync } from './sync.ts';

export type View = { name: 'walk' } | { name: 'area'; area: string } | { name: 'verdict' };

export interface Garage {
  desk: Desk;
  sync: Sync;
  go(view: View, focusOn?: string): void;
}

export const GarageContext = createContext<Garage | undefined>(undefined);

/** What every part of the page works with. */
export function useGarage(): Garage {
  const garage = useContext(GarageContext);
  if (garage === undefined) throw new Error('outside of the garage');
  return garage;
}

import { createContext } from 'preact';
import { useCallback, useContext, useEffect, useState } from 'preact/hooks';
import type { Declaration } from './kept/declaration.ts';
import type { Sync } from './kept/sync.ts';

/** Views that are told by their name alone. */
const NAMED = ['verdict', 'check', 'session', 'countdown', 'workshop'] as const;

function viewOf(search: string): View {
  const query = new URLSearchParams(search);
  const area = query.get('area');
  if (area !== null) return { name: 'area', area };
  const screen = query.get('screen');
  if (screen !== null) return { name: 'screen', screen };
  const named = NAMED.find((name) => query.has(name));
  if (named !== undefined) return { name: named };
  return { name: 'walk' };
}

/** The entry whose declaration somebody of the staff types here; undefined: the page is its entrant's. */
export const typedEntry = (): string | undefined => new URLSearchParams(location.search).get('entry') ?? undefined;

/** Whose access somebody who types for an entrant has on this device: that of the office, or of the tech line. */
export const typedFrom = (): 'office' | 'line' =>
  new URLSearchParams(location.search).has('office') ? 'office' : 'line';

function searchOf(view: View): string {
  const typed = typedEntry();
  const parts = [
    ...(typed === undefined
      ? []
      : [`entry=${encodeURIComponent(typed)}`, ...(typedFrom() === 'office' ? ['office'] : [])]),
    ...(view.name === 'area' ? [`area=${encodeURIComponent(view.area)}`] : []),
    ...(view.name === 'screen' ? [`screen=${encodeURIComponent(view.screen)}`] : []),
    ...(NAMED.some((name) => name === view.name) ? [view.name] : []),
  ];
  return parts.length === 0 ? '' : `?${parts.join('&')}`;
}

/** Heading of a view. */
const HEADINGS = {
  walk: 'walk',
  area: 'area',
  screen: 'screen',
  check: 'check',
  verdict: 'verdict',
  session: 'session',
  countdown: 'countdown',
  workshop: 'workshop',
} as const;

/** Moves the focus to what was asked for, else to the heading of the view. */
function focusIn(view: View, focusOn: string | undefined): void {
  const found =
    (focusOn === undefined ? null : document.getElementById(focusOn)) ?? document.getElementById(HEADINGS[view.name]);
  // What is folded away is opened first: it could not be seen.
  for (let at = found?.closest('details'); at; at = at.parentElement?.closest('details')) at.open = true;
  found?.focus();
  found?.scrollIntoView({ block: 'center' });
}

/** Which part is shown, kept in the address so that "back" of the browser goes back. */
export function useView(): [View, (view: View, focusOn?: string) => void] {
  const [view, setView] = useState<View>(() => viewOf(location.search));
  const [focus, setFocus] = useState<{ on: string | undefined } | undefined>(undefined);
  useEffect(() => {
    const back = (): void => {
      setView(viewOf(location.search));
      setFocus({ on: undefined });
    };
    globalThis.addEventListener('popstate', back);
    return () => globalThis.removeEventListener('popstate', back);
  }, []);
  useEffect(() => {
    if (focus !== undefined) focusIn(view, focus.on);
  }, [view, focus]);
  const go = useCallback((next: View, focusOn?: string) => {
    const address = `${location.pathname}${searchOf(next)}`;
    if (address !== location.pathname + location.search) history.pushState(null, '', address);
    setView(next);
    setFocus({ on: focusOn });
  }, []);
  return [view, go];
}

export type View =
  | { name: 'walk' }
  | { name: 'area'; area: string }
  | { name: 'screen'; screen: string }
  | { name: 'check' }
  | { name: 'verdict' }
  | { name: 'session' }
  | { name: 'countdown' }
  | { name: 'workshop' };

export interface Garage {
  declaration: Declaration;
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

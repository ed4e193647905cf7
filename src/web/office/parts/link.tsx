import { signal } from '@preact/signals';
import type { ComponentChildren } from 'preact';

const SECTIONS = [
  'start',
  'overview',
  'entries',
  'import',
  'line',
  'print',
  'mail',
  'access',
  'rules',
  'event',
  'learned',
  'service',
] as const;
export type Section = (typeof SECTIONS)[number];

/** Where in the office one is; all of it stands in the address, so that back, reload and a bookmark work. */
interface Place {
  section: Section;
  event?: string | undefined;
  entry?: string | undefined;
  ruleSet?: string | undefined;
  group?: string | undefined;
  /** of setting up */
  step?: string | undefined;
}

const NAMES = ['event', 'entry', 'ruleSet', 'group', 'step'] as const;

function read(): Place {
  const query = new URLSearchParams(location.search);
  const section = SECTIONS.find((one) => one === query.get('section')) ?? 'overview';
  const rest = Object.fromEntries(NAMES.map((name) => [name, query.get(name) ?? undefined]));
  return { section, ...rest };
}

export const place = signal<Place>(read());
addEventListener('popstate', () => {
  place.value = read();
});

/** The address of a place. */
function addressOf({ section, ...rest }: Place): string {
  const query = new URLSearchParams({ section });
  for (const name of NAMES) if (rest[name] !== undefined) query.set(name, rest[name]);
  return `?${query.toString()}`;
}

/** Goes to a place; the event stays unless another is named. */
export function go(next: Place): void {
  const to = { event: place.value.event, ...next };
  history.pushState(null, '', addressOf(to));
  place.value = to;
}

interface LinkProps {
  to: Place;
  current?: boolean;
  class?: string;
  children: ComponentChildren;
}

/** A link within the office: opens without loading the page anew, and in a new tab where one asks for that. */
export function Link({ to, current = false, children, class: name }: LinkProps) {
  return (
    <a
      href={addressOf({ event: place.value.event, ...to })}
      class={name}
      aria-current={current ? 'page' : undefined}
      onClick={(event) => {
        if (event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
        event.preventDefault();
        go(to);
      }}
    >
      {children}
    </a>
  );
}

import type { ComponentChildren } from 'preact';
import { addressOf, go, type Place, place } from './place.ts';

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

import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';

/** One part of a section, under a heading of its own. */
export function Panel({ title, children }: { title: string; children: ComponentChildren }) {
  const id = useId();
  return (
    <section class="panel stack" aria-labelledby={id}>
      <h3 id={id}>{title}</h3>
      {children}
    </section>
  );
}

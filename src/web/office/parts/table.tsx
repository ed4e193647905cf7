import type { ComponentChildren } from 'preact';

interface TableProps {
  /** name of the table, read and shown above it */
  caption: string;
  head: readonly ComponentChildren[];
  children: ComponentChildren;
}

/** A table that scrolls sideways within itself where it does not fit, also by keyboard. */
export function Table({ caption, head, children }: TableProps) {
  return (
    <div class="scroll" role="region" aria-label={caption} tabIndex={0}>
      <table>
        <caption>{caption}</caption>
        <thead>
          <tr>
            {head.map((cell, index) => (
              <th key={index} scope="col">
                {cell}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>{children}</tbody>
      </table>
    </div>
  );
}

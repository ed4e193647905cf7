import type { Sheet } from '../../api/operations.ts';

type Block = Sheet['blocks'][number];

/** Tables of more columns lie on their side, as in the PDF. */
const MOST_UPRIGHT = 5;

/** A sheet as it comes out of the printer. */
export function SheetView({ sheet, paper }: { sheet: Sheet; paper: 'a4' | 'letter' }) {
  const { title, about, made, cautions, blocks, language } = sheet;
  const isWide = blocks.some(({ columns }) => columns.length > MOST_UPRIGHT);
  return (
    <article class={`printed-sheet ${isWide ? `${paper}-wide` : paper}`} lang={language}>
      <h3>{title}</h3>
      <p>
        {about} · {made}
      </p>
      <div class="cautions">
        {cautions.map((caution) => (
          <p key={caution}>{caution}</p>
        ))}
      </div>
      {blocks.map((block, place) => (
        // Blocks have no other order than their own.
        <Part key={place} block={block} />
      ))}
    </article>
  );
}

function Part({ block: { heading, lines, columns, rows } }: { block: Block }) {
  return (
    <section>
      {heading !== undefined && <h4>{heading}</h4>}
      {lines.map((line, place) => (
        <p key={place} class={line === '' ? 'by-hand' : undefined}>
          {line}
        </p>
      ))}
      {columns.length > 0 && (
        <table>
          <thead>
            <tr>
              {columns.map((column) => (
                <th key={column.heading} scope="col">
                  {column.heading}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((row, place) => (
              <tr key={place}>
                {row.map((cell, at) =>
                  columns[at]?.strong === true ? (
                    <td key={at}>
                      <strong>{cell}</strong>
                    </td>
                  ) : (
                    <td key={at}>{cell}</td>
                  ),
                )}
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  );
}

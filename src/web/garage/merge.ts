import { type Cells, type Leaf, sameLeaf } from './cells.ts';

/** A cell that this device and another one changed to different things. */
export interface Conflict {
  cell: string;
  mine: Leaf | undefined;
  theirs: Leaf | undefined;
}

export interface Merged {
  cells: Cells;
  conflicts: readonly Conflict[];
  /** cells that only the other side changed */
  taken: readonly string[];
}

/**
 * Brings two changes of the same answers together: what only one side changed is taken from it; what both changed
 * differently stays as it is here and is for a person to decide.
 *
 * @param base what both sides started from
 */
export function merge(base: Cells, mine: Cells, theirs: Cells): Merged {
  const conflicts: Conflict[] = [];
  const taken: string[] = [];
  const cells: Record<string, Leaf> = { ...mine };
  for (const cell of new Set([...Object.keys(base), ...Object.keys(mine), ...Object.keys(theirs)])) {
    const [was, here, there] = [base[cell], mine[cell], theirs[cell]];
    if (sameLeaf(here, there) || sameLeaf(was, there)) continue;
    if (!sameLeaf(was, here)) {
      conflicts.push({ cell, mine: here, theirs: there });
      continue;
    }
    taken.push(cell);
    if (there === undefined) delete cells[cell];
    else cells[cell] = there;
  }
  return { cells, conflicts, taken };
}

/** The cells in which two sets of answers differ. */
export function changedCells(a: Cells, b: Cells): string[] {
  return [...new Set([...Object.keys(a), ...Object.keys(b)])].filter((cell) => !sameLeaf(a[cell], b[cell]));
}

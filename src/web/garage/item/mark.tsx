/** What something comes to, told by shape as well as colour. */
export type MarkKind = 'good' | 'bad' | 'look' | 'open';

const SHAPES: Readonly<Record<MarkKind, string>> = {
  // a tick, an octagon with a cross, a triangle with a stroke, an empty ring
  good: 'M3 10.5 8 15.5 17.5 5',
  bad: 'M6.5 1.5h7l5 5v7l-5 5h-7l-5-5v-7zM7 7l6 6M13 7l-6 6',
  look: 'M10 2 19 18H1zM10 8v5M10 15.2v.8',
  open: 'M10 3a7 7 0 1 0 0 14a7 7 0 1 0 0-14z',
};

export function Mark({ kind }: { kind: MarkKind }) {
  return (
    <svg class={`mark ${kind}`} viewBox="0 0 20 20" aria-hidden="true" focusable="false">
      <path d={SHAPES[kind]} />
    </svg>
  );
}

const BY_VERDICT = { barred: 'bad', 'to-inspect': 'look', clean: 'good' } as const;
export const markOfVerdict = (verdict: keyof typeof BY_VERDICT): MarkKind => BY_VERDICT[verdict];

const BY_COUNTS = { bar: 'bad', inspect: 'look', advise: 'open', no: 'good' } as const;
export const markOfCounts = (counts: keyof typeof BY_COUNTS): MarkKind => BY_COUNTS[counts];

import type { Kind } from './answer.ts';

// Of our own drawing, on 100 by 100. Outline and inside differ in each, so that neither colour nor size is needed.
const OUTLINES: Readonly<Record<Kind, string>> = {
  go: 'M50 4a46 46 0 1 1 0 92a46 46 0 1 1 0-92z',
  conditions: 'M50 6L97 92H3z',
  stop: 'M30 3h40l27 27v40l-27 27H30L3 70V30z',
  'not-listed': 'M50 8L92 50L50 92L8 50z',
  'cannot-tell': 'M8 8h84v84H8z',
};
const INSIDES: Readonly<Record<Kind, string>> = {
  go: 'M27 52l16 17l31-37',
  conditions: 'M50 36v26M50 76v2',
  stop: 'M33 33l34 34M67 33L33 67',
  'not-listed': 'M33 50h34',
  'cannot-tell': 'M36 38a14 14 0 1 1 20 13q-6 3-6 12M50 76v2',
};
const HOLLOW: readonly Kind[] = ['not-listed', 'cannot-tell'];

/** The shape that belongs to an answer; said by the word beside it, so hidden from screen readers. */
export function Shape({ kind }: { kind: Kind }) {
  return (
    <svg class={`shape ${HOLLOW.includes(kind) ? 'hollow' : 'full'}`} viewBox="0 0 100 100" aria-hidden="true">
      <path class="outline" d={OUTLINES[kind]} />
      <path class="inside" d={INSIDES[kind]} />
    </svg>
  );
}

/** One row of an event's history as its chain sees it. */
export interface EventLink {
  seq: number;
  /** the row's own hash, which covers its content (SHA-256, hex) */
  rowHash: string;
  /** the link's hash as stored (SHA-256, hex) */
  hash: string;
}

/**
 * Whether links, in order, form one unbroken chain that ends at `head`: a row that was changed, taken out, put in or
 * moved breaks it from there on.
 *
 * @param sha256 SHA-256 of a UTF-8 text as 64 hex digits (FIPS 180-4)
 * @returns `brokenAt`: the number of the first link that does not fit; one past the last where the head does not
 */
export function verifyEventChain(
  links: readonly EventLink[],
  head: { seq: number; hash: string },
  sha256: (text: string) => string,
): { intact: boolean; brokenAt?: number } {
  let before = '';
  for (const [index, link] of links.entries()) {
    const seq = index + 1;
    if (link.seq !== seq || link.hash !== sha256(linkText(before, seq, link.rowHash))) {
      return { intact: false, brokenAt: seq };
    }
    before = link.hash;
  }
  const fits = links.length === head.seq && before === head.hash;
  return fits ? { intact: true } : { intact: false, brokenAt: links.length + 1 };
}

/** What a link's hash covers: the same words as the database function `event_link`. */
export const linkText = (before: string, seq: number, rowHash: string): string => `${before}:${seq}:${rowHash}`;

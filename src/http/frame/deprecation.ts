/** When an operation was declared out of use, when it ends, and what to call instead. Plain dates, UTC. */
export interface Deprecated {
  since: string;
  /** absent: the end is not set yet */
  sunset?: string;
  /** address that says what to do instead */
  instead: string;
}

/**
 * The headers that say so with every answer: `Deprecation` (RFC 9745, a date of RFC 9651), `Sunset` (RFC 8594, an HTTP date) and a
 * link of the relation `deprecation`.
 */
export function deprecationHeaders({ since, sunset, instead }: Deprecated): Record<string, string> {
  const at = (day: string) => new Date(`${day}T00:00:00Z`);
  return {
    deprecation: `@${at(since).getTime() / 1000}`,
    ...(sunset === undefined ? {} : { sunset: at(sunset).toUTCString() }),
    link: `<${instead}>; rel="deprecation"; type="text/html"`,
  };
}

/** A JSON Pointer (RFC 6901) from its steps, escaped; empty for no steps, that is the whole document. */
export function jsonPointer(steps: readonly PropertyKey[]): string {
  return steps.map((step) => `/${String(step).replaceAll('~', '~0').replaceAll('/', '~1')}`).join('');
}

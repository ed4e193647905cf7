export const YAML = 'application/yaml';

/** How much a caller wants a media type (RFC 9110 §12.5.1): the most specific range that takes it decides. */
function wishFor(accept: string, type: string): number {
  const [group = ''] = type.split('/');
  let best = { weight: 0, precision: -1 };
  for (const range of accept.split(',')) {
    const [name = '', ...parameters] = range.split(';').map((part) => part.trim().toLowerCase());
    const precision = [`*/*`, `${group}/*`, type].indexOf(name);
    if (precision <= best.precision) continue;
    const q = Number(parameters.find((parameter) => parameter.startsWith('q='))?.slice(2) ?? 1);
    best = { weight: Number.isFinite(q) ? q : 0, precision };
  }
  return best.weight;
}

/** Whether a caller asks for YAML rather than JSON. Any type, or no wish at all, means JSON. */
export function wantsYaml(accept: string | undefined): boolean {
  return accept !== undefined && wishFor(accept, YAML) > wishFor(accept, 'application/json');
}

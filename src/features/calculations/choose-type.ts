/** A media range of an `Accept` header with its weight. */
interface Range {
  type: string;
  subtype: string;
  weight: number;
}

const RANGE = /^([\w!#$%&'*+.^`|~-]+)\/([\w!#$%&'*+.^`|~-]+)$/;

function rangesIn(header: string): Range[] {
  return header.split(',').flatMap((part): Range[] => {
    const [range = '', ...parameters] = part.split(';').map((text) => text.trim().toLowerCase());
    const [, type, subtype] = RANGE.exec(range) ?? [];
    if (type === undefined || subtype === undefined) return [];
    const weight = Number(parameters.find((parameter) => parameter.startsWith('q='))?.slice(2) ?? 1);
    return [{ type, subtype, weight: Number.isFinite(weight) ? weight : 0 }];
  });
}

/** The weight of the most specific range that covers a media type: itself, all of its kind, anything; 0 for none. */
function weightOf(mediaType: string, ranges: readonly Range[]): number {
  const [type, subtype] = mediaType.split('/');
  const matches = [
    ranges.find((range) => range.type === type && range.subtype === subtype),
    ranges.find((range) => range.type === type && range.subtype === '*'),
    ranges.find((range) => range.type === '*' && range.subtype === '*'),
  ];
  return matches.find((range) => range !== undefined)?.weight ?? 0;
}

/**
 * The media type to answer in (RFC 9110, section 12.5.1): the offered one with the highest weight, the first where
 * several weigh the same. No `Accept`, or an empty one, takes anything.
 *
 * @param offered media types in lower case, the preferred one first
 * @returns `undefined` where none of them will do
 */
export function chooseType<T extends string>(accept: string | undefined, offered: readonly T[]): T | undefined {
  if (accept === undefined || accept.trim() === '') return offered[0];
  const ranges = rangesIn(accept);
  let best: { type: T; weight: number } | undefined;
  for (const type of offered) {
    const weight = weightOf(type, ranges);
    if (weight > (best?.weight ?? 0)) best = { type, weight };
  }
  return best?.type;
}

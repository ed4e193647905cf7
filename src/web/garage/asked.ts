import type { AnswerType, SimpleAnswerType } from '../../domain/catalogue/item.ts';
import type { FormView } from '../api/operations.ts';

export type FormItem = FormView['items'][number];

/** Where one value is typed: an item, at a position, in a part of a composite answer. */
export interface Place {
  cell: string;
  key: string;
  position: string | undefined;
  field: string | undefined;
  type: SimpleAnswerType;
  /** of a part: its label, and whether the answer is none without it */
  part: { label: string; required: boolean } | undefined;
}

/** The type of an item's answer, which the document of the API leaves open. */
export const typeOf = (item: FormItem): AnswerType => item.answer as AnswerType;

/** As the API names cells: `key`, `key@position`, `key#field`, `key@position#field`. */
export function cellOf(key: string, position?: string, field?: string): string {
  return `${key}${position === undefined ? '' : `@${position}`}${field === undefined ? '' : `#${field}`}`;
}

export function placeOfCell(cell: string): { key: string; position: string | undefined; field: string | undefined } {
  const [place = '', field] = cell.split('#');
  const [key = '', position] = place.split('@');
  return { key, position, field };
}

/** The places of an item at one position (or at none). */
export function placesAt(item: FormItem, position: string | undefined): Place[] {
  const type = typeOf(item);
  const { key } = item;
  if (type.kind !== 'fields') {
    return [{ cell: cellOf(key, position), key, position, field: undefined, type, part: undefined }];
  }
  return Object.entries(type.fields).map(([field, { type: of, required, label }]) => ({
    cell: cellOf(key, position, field),
    key,
    position,
    field,
    type: of,
    part: { label, required },
  }));
}

export const positionsOf = (item: FormItem): readonly (string | undefined)[] => item.positions ?? [undefined];

export const placesOf = (item: FormItem): Place[] => positionsOf(item).flatMap((at) => placesAt(item, at));

/** Items that the entrant answers. */
export const isAsked = (item: FormItem): boolean => item.answeredBy !== 'inspector';

/** How many answers an item asks for and how many are given: a composite of optional parts counts once. */
export function countAnswers(item: FormItem, has: (cell: string) => boolean): { asked: number; given: number } {
  let asked = 0;
  let given = 0;
  for (const position of positionsOf(item)) {
    const places = placesAt(item, position);
    const required = places.filter(({ part }) => part?.required !== false);
    if (required.length === 0) {
      asked += 1;
      given += places.some(({ cell }) => has(cell)) ? 1 : 0;
      continue;
    }
    asked += required.length;
    given += required.filter(({ cell }) => has(cell)).length;
  }
  return { asked, given };
}

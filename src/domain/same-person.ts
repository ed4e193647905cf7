import unhomoglyph from 'unhomoglyph';
import { personKey } from './actor.ts';

/** A person as somebody named him; the id is the organizer's own. */
export interface NamedPerson {
  name: string;
  personId?: string | null | undefined;
}

/**
 * What a text looks like: the skeleton of UTS 39, by the confusables of Unicode 13.0 as the package `unhomoglyph` has
 * them. Letters that look the same have one skeleton, whatever script they are of.
 */
function skeleton(text: string): string {
  const visible = text.normalize('NFD').replace(/\p{Default_Ignorable_Code_Point}+/gu, '');
  return unhomoglyph(visible).normalize('NFD');
}

/**
 * The keys of a name. Capitals look alike where small letters do not (В and B, в and b) and the other way round, so a
 * name is taken as written, in small letters and in capitals. I, i, l and 1 are one, as they are in many typefaces.
 */
function keysOf(name: string): string[] {
  const seen = name.normalize('NFKC').replace(/[\p{Cf}\p{Default_Ignorable_Code_Point}]+/gu, '');
  const looks = [seen, seen.toLowerCase(), seen.toUpperCase()].map((written) =>
    personKey(skeleton(written)).replaceAll('i', 'l'),
  );
  return [personKey(name), personKey(seen), ...looks];
}

const idKey = (personId: string): string => personId.normalize('NFKC').toLowerCase();

/**
 * Whether two may be one person: one id, or names that are or look the same. It decides conflicts of interest, so it
 * says yes once too often rather than once too rarely: two ids do not make two people of one name.
 */
export function maybeSamePerson(one: NamedPerson, other: NamedPerson): boolean {
  if (one.personId && other.personId && idKey(one.personId) === idKey(other.personId)) return true;
  const keys = new Set(keysOf(one.name));
  return keysOf(other.name).some((key) => keys.has(key));
}

import type { Unit } from '../../domain/quantity.ts';
import { text } from './text.ts';

const { t } = text;
const WORDS = { turns: 'unit.turns', h: 'unit.h', min: 'unit.min' } as const;

/** The name of a unit that is a word and not a sign. */
export function unitWord(unit: Unit): string | undefined {
  return unit === 'turns' || unit === 'h' || unit === 'min' ? t(`${WORDS[unit]}.name`) : undefined;
}

import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../seed/built-in.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';

const { rules } = RuleSet.parse(BUILT_IN_RULE_SET);

interface Words {
  id: string;
  language: 'en' | 'de';
  /** what is wrong, and what comes of it */
  message: string;
  /** what to do, and by when */
  fix: string;
}

const all: Words[] = rules.flatMap(({ id, message, fix, texts }) => [
  { id, language: 'en', message, fix },
  { id, language: 'de', message: texts?.['de']?.message ?? '', fix: texts?.['de']?.fix ?? '' },
]);
const failing = (isBad: (words: Words) => boolean): string[] =>
  all.filter(isBad).map((words) => `${words.id} ${words.language}: ${words.message} – ${words.fix}`);

/** Common practice, no source: when somebody must have acted, or who looks next. */
const BY_WHEN = {
  en: /\b(before|today|after|until|next|now|the line|not (?:drive|start)|never|at once|session)\b/i,
  de: /\b(bevor|vor|heute|nach|bis|nächste\w*|jetzt|Abnahme|(?:Fahr|Starte) (?:\w+ )?nicht|nie|sofort|ersten Fahrt)\b/i,
} as const;
/** Commands that the texts use; each tells somebody standing at the car what to do with his hands, eyes or papers. */
const DOES = {
  en: /\b(?:not drive|fit|look|replace|have|read|enter|fill|flush|choose|fix|measure|set|find|bring|clean|take|bleed|hold|tighten|use|top|repair|check|plan|ask|stop|wait|drain|follow|keep|mend|rebuild|renew|wipe|start|loosen|say|let|close|wear|mark|clamp|cover|turn|scrape|wash|empty|lean|put|lead|carry|bolt|print|weigh|move|confirm|drive|get|compare|feel|pull|change|clear|adjust|count|think|go|free|cool|rub)\b/i,
  de: /\b(?:fahr|ersetz|sieh|bau|lass|lies|zieh|trag|miss|such|füll|nimm|spül|starte|finde|halt|besorg|bring|mach|befestige|berichtige|stell|reparier|entlüfte|sag|wechsle|erneuere|prüf|plan|setz|warte|wisch|putz|folg|behebe?|denk|überhol|löse|schließ|frag|kennzeichne|druck|klemm|deck|sorg|kühl|komm|wähl|reinig|reinige|zerleg|dreh|vergleich|kratz|wasch|richte|entfern|kleb|räum|melde|lehn|führ|schraub|wieg|probier|verleg|geh|bestätige|leere|schreib|versetz)\b/i,
} as const;
const JARGON = {
  en: /\b(?:fraction|band of|diagonal|parameter|threshold|boolean|null|invalid|unanswerable)\b|[a-z]+-[a-z]+-[a-z]+-|_/i,
  de: /\b(?:Bruchteil|Diagonale|Parameter|Schwellenwert|ungültig)\b|_/i,
} as const;

describe('what a rule says to the entrant', () => {
  it('says what is wrong and what comes of it: never a bare sentence', () => {
    expect(failing(({ message }) => message.split(/[.:;,] /).length < 2)).toEqual([]);
    expect(failing(({ message }) => message.length < 40 || message.length > 260)).toEqual([]);
  });

  it('says what to do and by when', () => {
    expect(failing(({ language, fix }) => !DOES[language].test(fix))).toEqual([]);
    expect(failing(({ language, fix }) => !BY_WHEN[language].test(fix))).toEqual([]);
    expect(failing(({ fix }) => fix.length < 25 || fix.length > 260)).toEqual([]);
  });

  it('is a sentence that ends, without words of the machine', () => {
    expect(failing(({ message, fix }) => !/[.!?]$/.test(message) || !/[.!?]$/.test(fix))).toEqual([]);
    expect(failing(({ language, message, fix }) => JARGON[language].test(`${message} ${fix}`))).toEqual([]);
  });

  it('tells of a car that is barred not to drive, or what must be done before it goes out', () => {
    const bars = new Set(rules.filter(({ effect }) => effect === 'bar').map(({ id }) => id));
    const late = /\bnext (?:event|season|service)\b|nächste\w* (?:Veranstaltung|Saison|Wartung)/;
    expect(failing(({ id, fix }) => bars.has(id) && late.test(fix))).toEqual([]);
  });
});

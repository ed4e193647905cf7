import { findItem } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import { type Judge, unreliableFinding } from '../judge/build-finding.ts';
import { unreliableTexts } from '../judge/reliability.ts';
import { type AnswerPlace, peekDeclared, type Run } from '../judge/run.ts';
import { quantity } from '../model/finding.ts';
import { enclosing, relate } from '../model/rule-each.ts';
import { type AnswerOf, answerPlace } from './answer.ts';
import type { Binder } from './kind.ts';

/** A number that a rule may have gone by, and what such a number usually is. */
interface Watched {
  place: AnswerPlace;
  type: AnswerOf<'number'>;
  from: number;
  to: number;
}

/** The positions of an item that a rule sees where it runs: its own, those within it, or all where it runs once. */
function positionsSeen(item: Item, { each, position, positionsOf }: Binder): readonly (string | undefined)[] {
  const { positions } = item;
  if (positions === undefined) return [undefined];
  const all = positionsOf(item.key);
  if (each === undefined || position === undefined) return all;
  switch (relate(positions, each)) {
    case 'unrelated':
      return all;
    case 'finer':
      return all.filter((one) => enclosing(one, positions, each) === position);
    default: {
      const single = enclosing(position, each, positions);
      return all.filter((one) => one === single);
    }
  }
}

function numbersOf(item: Item): { field: string | undefined; type: AnswerOf<'number'> }[] {
  const { answer } = item;
  if (answer.kind === 'number') return [{ field: undefined, type: answer }];
  if (answer.kind !== 'fields') return [];
  return Object.entries(answer.fields).flatMap(([field, { type }]) =>
    type.kind === 'number' ? [{ field, type }] : [],
  );
}

function watchedBy(binder: Binder): Watched[] {
  const items = binder.rule.items.flatMap((key) => findItem(key) ?? []);
  return items.flatMap((item) =>
    numbersOf(item).flatMap(({ field, type }) => {
      if (type.plausible === undefined) return [];
      const [from, to] = type.plausible;
      return positionsSeen(item, binder).map((position) => {
        const place = answerPlace(item, position, field, binder.slots);
        return { place, type, from, to };
      });
    }),
  );
}

/** The cells that a test looks for, also those behind what is derived for it. */
function cellsRead(judge: Judge, run: Run): ReadonlySet<string> {
  const { touched, derived, source } = run;
  const cells = new Set<string>();
  run.touched = cells;
  run.derived = new Map();
  try {
    judge(run);
  } finally {
    run.touched = touched;
    run.derived = derived;
    run.source = source;
  }
  return cells;
}

/**
 * A judge that a number which is hardly possible does not satisfy: what comes of it in a calculation looks like any other
 * number, so it is held against what is usual before anything is computed of it counts. What was measured at the line counts.
 */
export function guardImplausible(judge: Judge, binder: Binder): Judge {
  const watched = watchedBy(binder);
  if (watched.length === 0) return judge;
  const { head } = binder;
  return (run) => {
    const finding = judge(run);
    if (finding === undefined || finding.result !== 'met') return finding;
    for (const { place, type, from, to } of watched) {
      const value = peekDeclared(run, place);
      if (typeof value !== 'number' || (value >= from && value <= to)) continue;
      // what the rule names and this test does not go by decides nothing
      if (!cellsRead(judge, run).has(place.cell)) continue;
      const why = { kind: 'implausible', from, to } as const;
      const { limit = '', margin } = finding;
      const texts = unreliableTexts(value, type.unit, limit, why);
      return unreliableFinding(head, run, quantity(value, type.unit), finding.limit, margin, why, texts);
    }
    return finding;
  };
}

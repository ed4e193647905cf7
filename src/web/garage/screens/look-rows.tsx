import { useState } from 'preact/hooks';
import { saysText } from '../../shared/says.ts';
import { useGarage } from '../context.ts';
import { ItemBody } from '../item/item.tsx';
import { Mark, type MarkKind } from '../item/mark.tsx';
import { cellOf, type FormItem, placesAt, placesOf, typeOf } from '../kept/asked.ts';
import { type Cells, EACH, isNoAnswer, itemId, type Leaf, leafAt, sameLeaf } from '../kept/cells.ts';
import { setCells } from '../kept/declaration.ts';
import { text } from '../text.ts';

/**
 * The answer of a thing that is as it must be, by item; of an answer with parts, by part. A confirmation needs none: it is
 * given or not. Offered below what was looked at, never set by itself.
 */
const GOOD: Readonly<Record<string, Leaf | Readonly<Record<string, Leaf>>>> = {
  'engine.leaks': 'none',
  'brake-fluid.level': { level: 'ok' },
  'clutch-fluid.level': { level: 'ok' },
  'coolant.level': { level: 'ok' },
  'radiator.debris': 'clear',
  'brake.pedal': 'firm',
  'brake.parking': 'holds',
  'lamps.warning': 'none',
  'fuel.gas': 'none',
  'gas.leak': 'none',
  'gas.tank-valve': 'closes',
  'belt.condition': 'ok',
  'seat.condition': 'ok',
  'tyre.cords-visible': false,
  'tyre.cuts-or-bulges': false,
  'tyre.axle-marking': { same: true },
  'wheel.cracks': 'none',
  'wheel.bent': { bent: false },
  'wheel.weights-present': 'present',
  'wheel.clean': true,
  'wheel.fitting': 'as-the-maker-fitted',
  'wheel-play.nine-three': { felt: 'none' },
  'wheel-play.twelve-six': { felt: 'none' },
  'pad.even': true,
  'rotor.cracks': 'none',
  'caliper.boots': 'ok',
  'caliper.seals': 'ok',
  'caliper.guides': 'ok',
  'drum.wheel-cylinders': 'dry',
  'drum.condition': 'sound',
  'gearbox-fluid.level': { level: 'at-hole' },
  'differential-fluid.level': { level: 'at-hole' },
  'bushing.condition': 'ok',
  'bushing.lubricated': true,
  'bushing.clean': true,
  'damper.leak': 'none',
  'damper.mount-play': 'none',
  'oil.level.at-operating-temperature': true,
  'harness.seat-slots': true,
  'head-restraint.tether-posts': true,
  'hv.damage-or-work': 'none',
  'hv.status-light': 'works',
};

/** By cell, what an item is answered with where all is as it must be; undefined: there is no one good answer. */
export function goodCells(item: FormItem): Readonly<Record<string, Leaf>> | undefined {
  const good = typeOf(item).kind === 'confirm' ? true : GOOD[item.key];
  if (good === undefined) return undefined;
  const at = item.positions === undefined ? undefined : EACH;
  if (typeof good !== 'object' || Array.isArray(good)) return { [cellOf(item.key, at)]: good as Leaf };
  const parts = good as Readonly<Record<string, Leaf>>;
  return Object.fromEntries(Object.entries(parts).map(([field, leaf]) => [cellOf(item.key, at, field), leaf]));
}

type RowState = 'open' | 'good' | 'other' | 'not-sure';

/** What is said of an item at all its places: nothing at one of them, all good, or something else. */
function rowState(item: FormItem, cells: Cells): RowState {
  const good = goodCells(item) ?? {};
  const leaves = (item.positions ?? [undefined]).flatMap((position) =>
    placesAt(item, position)
      .filter(({ part }) => part?.required !== false)
      .map((place) => ({ place, leaf: leafAt(cells, place) })),
  );
  if (leaves.some(({ leaf }) => isNoAnswer(leaf))) return 'not-sure';
  if (leaves.some(({ leaf }) => leaf === undefined))
    return leaves.some(({ leaf }) => leaf !== undefined) ? 'other' : 'open';
  const at = item.positions === undefined ? undefined : EACH;
  const isGood = leaves.every(({ place, leaf }) => sameLeaf(leaf, good[cellOf(item.key, at, place.field)]));
  return isGood ? 'good' : 'other';
}

/** The changes that make an item good at all its places: what was said of single places goes. */
function makeGood(item: FormItem, cells: Cells): Readonly<Record<string, Leaf | undefined>> {
  const own = Object.keys(cells).filter(
    (cell) => cell === item.key || cell.startsWith(`${item.key}@`) || cell.startsWith(`${item.key}#`),
  );
  return { ...Object.fromEntries(own.map((cell) => [cell, undefined])), ...goodCells(item) };
}

const { t } = text;
const MARKS: Readonly<Record<RowState, MarkKind>> = { open: 'open', good: 'good', other: 'bad', 'not-sure': 'look' };

/** The good state of a thing in one sentence: what the hardest rule about it says before there is an answer. */
function goodState(item: FormItem): string | undefined {
  const rank = { bar: 0, inspect: 1, advise: 2 } as const;
  const said = item.rules.filter(({ says }) => says !== undefined).toSorted((a, b) => rank[a.effect] - rank[b.effect]);
  const [first] = said;
  return first?.says === undefined ? undefined : saysText(first.says);
}

/** Things that one look takes in: each a line of its own, and one button below the last for all that are as they must be. */
export function LookRows({ items }: { items: readonly FormItem[] }) {
  const { declaration, sync } = useGarage();
  const cells = declaration.cells.value;
  const open = items.filter((item) => rowState(item, cells) === 'open');
  const all = (): void => {
    const changes = open.map((item) => makeGood(item, declaration.cells.value));
    setCells(declaration, Object.assign({}, ...changes) as Record<string, Leaf | undefined>);
    sync.typed();
  };
  return (
    <div class="look-rows">
      {items.map((item) => (
        <LookRow key={item.key} item={item} isLone={items.length === 1} />
      ))}
      {declaration.open.value && open.length > 0 && (
        <button type="button" class="all-good" onClick={all}>
          <Mark kind="good" />{' '}
          {open.length < items.length
            ? t('look.others', { count: open.length })
            : t('look.all', { count: items.length })}
        </button>
      )}
    </div>
  );
}

function LookRow({ item, isLone }: { item: FormItem; isLone: boolean }) {
  const { declaration, sync } = useGarage();
  const state = rowState(item, declaration.cells.value);
  const [isOpened, setOpened] = useState<boolean | undefined>(undefined);
  const isOpen = isOpened ?? state === 'other';
  const says = goodState(item);
  const id = itemId(item.key);
  const say = (changes: Readonly<Record<string, Leaf | undefined>>): void => {
    setCells(declaration, changes);
    sync.typed();
  };
  const good = (): void => {
    say(makeGood(item, declaration.cells.value));
    setOpened(false);
  };
  const notGood = (): void => {
    if (typeOf(item).kind === 'confirm') say({ [cellOf(item.key)]: false });
    setOpened(true);
  };
  const notSure = (): void => {
    const none = makeGood(item, declaration.cells.value);
    const cleared = Object.fromEntries(Object.keys(none).map((cell) => [cell, undefined]));
    say({ ...cleared, ...Object.fromEntries(placesOf(item).map(({ cell }) => [cell, { notSure: true as const }])) });
    setOpened(false);
  };
  return (
    <div class={`look-row ${state}`}>
      <button type="button" id={id} class="look-line" aria-expanded={isOpen} onClick={() => setOpened(!isOpen)}>
        <Mark kind={MARKS[state]} />
        <span class="look-text">
          <strong>{item.label}</strong>
          {says !== undefined && <span class="soft"> {says}</span>}
          <span class="unseen"> {t(`look.is.${state}`)}</span>
        </span>
      </button>
      {(isOpen || (isLone && state === 'open')) && declaration.open.value && (
        <div class="tri" role="group" aria-labelledby={id}>
          {!isLone && (
            <button type="button" aria-pressed={state === 'good'} onClick={good}>
              {t('look.good')}
            </button>
          )}
          <button type="button" aria-pressed={state === 'other'} onClick={notGood}>
            {t('look.not-good')}
          </button>
          <button type="button" aria-pressed={state === 'not-sure'} onClick={notSure}>
            {t('look.not-sure')}
          </button>
        </div>
      )}
      {isOpen && (
        <div class="look-body">
          <ItemBody item={item} />
        </div>
      )}
    </div>
  );
}

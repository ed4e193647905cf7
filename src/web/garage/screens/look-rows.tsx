import { useState } from 'preact/hooks';
import { saysText } from '../../shared/says.ts';
import { useGarage } from '../context.ts';
import { ItemBody } from '../item/item.tsx';
import { Mark, type MarkKind } from '../item/mark.tsx';
import { cellOf, type FormItem, placesOf, typeOf } from '../kept/asked.ts';
import { itemId, type Leaf } from '../kept/cells.ts';
import { setCells } from '../kept/declaration.ts';
import { text } from '../text.ts';
import { makeGood, type RowState, rowState } from './good.ts';

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

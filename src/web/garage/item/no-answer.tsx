import { useGarage } from '../context.ts';
import { type FormItem, placesOf } from '../kept/asked.ts';
import { isNoAnswer, type Leaf, type NoAnswer, sameLeaf } from '../kept/cells.ts';
import { setCells } from '../kept/declaration.ts';
import { reasonText } from '../verdict/say.ts';
import { text } from '../text.ts';

const { t } = text;
const NOT_SURE: NoAnswer = { notSure: true };

/**
 * The third way out of a question: not sure, which the inspector looks at; and where the question may not apply to a car,
 * why it does not. It is said of what is not answered yet; taken back by a second tap, or by answering.
 */
export function ItemNoAnswer({ item }: { item: FormItem }) {
  const { declaration, sync } = useGarage();
  if (!declaration.open.value) return null;
  const cells = placesOf(item).map(({ cell }) => cell);
  const at = (cell: string): Leaf | undefined => declaration.cells.value[cell];
  const isLone = item.positions === undefined;
  // Many typed values are not wiped out by one tap.
  const free = cells.filter((cell) => isLone || at(cell) === undefined || isNoAnswer(at(cell)));
  const isSaid = (said: NoAnswer): boolean => free.length > 0 && free.every((cell) => sameLeaf(at(cell), said));
  const say = (said: NoAnswer): void => {
    const leaf = isSaid(said) ? undefined : said;
    setCells(declaration, Object.fromEntries(free.map((cell) => [cell, leaf])));
    sync.typed();
  };
  if (free.length === 0) return null;
  const reasons = item.doesNotApply ?? [];
  return (
    <div class="no-answer row">
      <button type="button" class="quiet" aria-pressed={isSaid(NOT_SURE)} onClick={() => say(NOT_SURE)}>
        {t('not-sure')} <span class="unseen">{item.label}</span>
      </button>
      {reasons.length > 0 && (
        <details>
          <summary>{t('not-applicable')}</summary>
          <div class="row">
            {reasons.map(({ reason, label }) => (
              <button
                key={reason}
                type="button"
                aria-pressed={isSaid({ doesNotApply: reason })}
                onClick={() => say({ doesNotApply: reason })}
              >
                {reasonText(reason, label)}
              </button>
            ))}
          </div>
        </details>
      )}
    </div>
  );
}

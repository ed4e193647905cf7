import { placeName } from '../format.ts';
import { goTo } from '../state/feed.ts';
import type { Blocker } from '../state/blockers.ts';
import { text } from '../text.ts';

const { t } = text;

interface Props {
  title: string;
  found: readonly Blocker[];
  urgent?: boolean;
  /** before the focus moves, for a dialog that must close first */
  onGo?(): void;
}

/** What stands in the way, each with the way to it. */
export function Hinders({ title, found, urgent = false, onGo }: Props) {
  return (
    <div class={`notice stack ${urgent ? 'bad' : 'look'}`} role={urgent ? 'alert' : undefined}>
      <p>
        <strong>{title}</strong>
      </p>
      <ul class="hinders">
        {found.map(({ key, values, target }, index) => (
          <li key={`${key}-${index}`}>
            <span>
              {t(key, values)}
              {placeOf(target)}
            </span>
            {target !== undefined && (
              <button
                type="button"
                class="glove"
                onClick={() => {
                  onGo?.();
                  goTo(target);
                }}
              >
                {t('hinders.go')}
                <span class="unseen">
                  : {t(key, values)}
                  {placeOf(target)}
                </span>
              </button>
            )}
          </li>
        ))}
      </ul>
    </div>
  );
}

/** Where on the car, for a point that has several places. */
function placeOf(target: Blocker['target']): string {
  const position = target?.kind === 'place' ? target.cell.split('@')[1] : undefined;
  return position === undefined ? '' : ` (${placeName(position)})`;
}

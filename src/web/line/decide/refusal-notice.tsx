import { useEffect, useRef } from 'preact/hooks';
import type { Desk } from '../state/desk.ts';
import type { Draft, Refusal } from '../state/draft.ts';
import { goTo } from '../state/focus.ts';
import { refusedParts } from '../state/refusal.ts';
import { text } from '../text.ts';

const { t } = text;
const TITLES = ['bar-stands', 'points-not-checked', 'sticker-taken', 'conflict-of-interest'] as const;

/** Why the server did not take the sign-off, each part with the way to it; the focus goes to the first. */
export function RefusalNotice({ desk, draft, refusal }: { desk: Desk; draft: Draft; refusal: Refusal }) {
  const box = useRef<HTMLDivElement>(null);
  const parts = refusedParts(draft, refusal, desk.items.value);
  useEffect(() => {
    const first = parts.find(({ target }) => target !== undefined)?.target;
    if (first === undefined) box.current?.focus();
    else goTo(first);
  }, [refusal]);
  const known = TITLES.find((code) => code === refusal.code);
  return (
    <div class="notice bad stack" role="alert" ref={box} tabIndex={-1}>
      <p>
        <strong>{t('refused.title')}</strong>
      </p>
      <p>{known === undefined ? refusal.detail : t(`refused.${known}`)}</p>
      <ul class="hinders">
        {parts.map(({ detail, target }, index) => (
          <li key={`${detail}-${index}`}>
            <span>{detail}</span>
            {target !== undefined && (
              <button type="button" class="glove" onClick={() => goTo(target)}>
                {t('hinders.go')}
                <span class="unseen">: {detail}</span>
              </button>
            )}
          </li>
        ))}
      </ul>
    </div>
  );
}

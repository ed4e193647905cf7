import type { ComponentChildren } from 'preact';
import { words } from '../../shared/words.ts';
import { TroubleBox } from './trouble-box.tsx';
import type { Load } from './use-load.ts';

/** What was read; until then that it is being read, and beside it that it could not be read anew. */
export function Loaded<T>({ of, children }: { of: Load<T>; children(data: T): ComponentChildren }) {
  const { data, trouble, reload } = of;
  return (
    <>
      {trouble !== undefined && (
        <div class="stack">
          <TroubleBox trouble={trouble} />
          <div class="row">
            <button type="button" onClick={reload}>
              {words.t('retry')}
            </button>
          </div>
        </div>
      )}
      {data === undefined && trouble === undefined && <p role="status">{words.t('loading')}</p>}
      {data !== undefined && children(data)}
    </>
  );
}

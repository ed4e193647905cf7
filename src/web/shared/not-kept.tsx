import { isNotKept } from './device-store.ts';
import { words } from './words.ts';

/** Says on every page when what is typed is not kept on this device: without a network it would be lost with the page. */
export function NotKept() {
  return (
    <div role="alert" class="no-print">
      {isNotKept.value && <p class="notice bad">{words.t('not-kept')}</p>}
    </div>
  );
}

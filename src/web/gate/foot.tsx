import { leave } from '../shared/access.tsx';
import { Choices } from '../shared/frame.tsx';
import { updateWaits, version } from '../shared/register-worker.ts';
import { words } from '../shared/words.ts';
import { text } from './text.ts';

const { t } = text;

interface FootProps {
  event: string;
  /** the server takes this device's token no more */
  ended: boolean;
  otherEvent(): void;
}

/** Below the screen that works: caution, language and display, other event, version. */
export function Foot({ event, ended, otherEvent }: FootProps) {
  return (
    <footer class="foot stack">
      <p class="notice look">{words.t('caution')}</p>
      <p>{event}</p>
      <div class="row spread">
        <Choices />
        <button type="button" class="glove" onClick={otherEvent}>
          {t('event.other')}
        </button>
      </div>
      {ended && (
        <button type="button" class="glove" onClick={() => leave('gate')}>
          {words.t('session.leave')}
        </button>
      )}
      <p data-version={version()}>{t('version', { version: version() ?? '–' })}</p>
      {updateWaits.value && <p>{t('version.waits')}</p>}
    </footer>
  );
}

import type { LogEntryInput, WrittenLog } from '../../api/operations.ts';
import type { Logs } from '../kept/logs.ts';
import { Mark } from '../item/mark.tsx';
import { text } from './text.ts';

const { t } = text;

/** What an entry is about, in words. */
const nameOf = ({ kind, session }: Pick<LogEntryInput, 'kind' | 'session'>): string =>
  session === undefined ? t(`kind.${kind}`) : t('written.of', { what: t(`kind.${kind}`), session });

/** What was written down here: what waits for a network, what the server made of it, and what it refused. */
export function Written({ logs }: { logs: Logs }) {
  const waiting = logs.waiting.value;
  const done = logs.answers.value;
  return (
    <section id="written" class="stack" aria-label={t('written')} role="status">
      {done.map((log) => (
        <Done key={log.logId} log={log} />
      ))}
      {waiting.map(({ key, body, refused }) =>
        refused === undefined ? (
          <p key={key} class="notice look">
            <Mark kind="open" /> {t('written.waits', { what: nameOf(body) })}
          </p>
        ) : (
          <div key={key} class="notice bad stack">
            <p>{t('written.refused', { what: nameOf(body), why: refused })}</p>
            <div class="row">
              <button type="button" onClick={() => void logs.forget(key)}>
                {t('written.read')}
              </button>
            </div>
          </div>
        ),
      )}
    </section>
  );
}

function Done({ log }: { log: WrittenLog }) {
  const says =
    log.holdId !== undefined ? [t('says.stopped')] : log.conditionId !== undefined ? [t('says.done')] : log.says;
  return (
    <p class={`notice ${log.holdId === undefined ? 'good' : 'bad'}`}>
      <Mark kind={log.holdId === undefined ? 'good' : 'bad'} /> {t('written.is', { what: nameOf(log) })}{' '}
      {says.join(' ')}
    </p>
  );
}

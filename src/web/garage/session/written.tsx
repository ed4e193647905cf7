import type { LogEntryInput, WrittenLog } from '../../api/operations.ts';
import { asUnit, suffixOf } from '../../shared/units.ts';
import { defineText } from '../../shared/text.ts';
import type { Logs } from '../kept/logs.ts';
import { Mark } from '../item/mark.tsx';
import type { FieldName, Typed } from './entries.ts';

/** Texts of what is written down after a session, fetched when somebody goes there. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

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

/** What every group of fields of the page works with. */
export interface Fields {
  typed: Typed;
  set(change: Partial<Typed>): void;
  unreadable: readonly FieldName[];
}

interface NumberProps {
  name: FieldName;
  label: string;
  unit: string;
  value: string;
  /** keyboard of a phone */
  mode?: 'decimal' | 'text';
  unreadable: readonly FieldName[];
  onType(value: string): void;
}

/** A number as people type it, with the unit beside it. */
export function NumberField({ name, label, unit, value, mode = 'decimal', unreadable, onType }: NumberProps) {
  const id = `session-${name}`;
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <div class="with-unit">
        <input
          id={id}
          type="text"
          inputMode={mode}
          autoComplete="off"
          enterKeyHint="next"
          class="number"
          value={value}
          aria-invalid={unreadable.includes(name) ? 'true' : undefined}
          onInput={({ currentTarget }) => onType(currentTarget.value)}
        />
        <span class="unit">{unit}</span>
      </div>
    </div>
  );
}

/** A unit as it stands beside a field. */
export const signOf = (unit: string): string => {
  const known = asUnit(unit);
  return known === undefined ? unit : suffixOf(known).trim();
};

import { type Fields, NumberField, text } from './written.tsx';

const { t } = text;

/** Which session of the day it was. */
export function SessionNumber({ typed, set }: Fields) {
  const count = Number(typed.session);
  const step = (by: number): void => {
    if (Number.isInteger(count)) set({ session: String(Math.max(1, count + by)) });
  };
  return (
    <div class="row session-number">
      <button type="button" aria-label={t('session.less')} onClick={() => step(-1)}>
        −
      </button>
      <label>
        <span>{t('session')}</span>{' '}
        <input
          value={typed.session}
          maxLength={60}
          size={6}
          onInput={({ currentTarget: { value } }) => set({ session: value })}
        />
      </label>
      <button type="button" aria-label={t('session.more')} onClick={() => step(1)}>
        +
      </button>
    </div>
  );
}

/** How far, and how fast where that may be timed: the best lap says later which set-up to begin with. */
export function Laps({ typed, set, unreadable }: Fields) {
  return (
    <details open={unreadable.some((name) => name === 'laps' || name === 'bestLap')}>
      <summary>{t('laps')}</summary>
      <div class="lowest">
        <NumberField
          name="laps"
          label={t('laps.count')}
          unit=""
          value={typed.laps}
          unreadable={unreadable}
          onType={(laps) => set({ laps })}
        />
        <NumberField
          name="bestLap"
          label={t('laps.best')}
          unit=""
          mode="text"
          value={typed.bestLap}
          unreadable={unreadable}
          onType={(bestLap) => set({ bestLap })}
        />
      </div>
      <p>{t('laps.says')}</p>
    </details>
  );
}

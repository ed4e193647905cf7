import { useEffect, useState } from 'preact/hooks';
import type { Gate } from './gate.ts';
import type { HeldList } from './held-list.ts';
import { text } from './text.ts';
import { clockTime } from '../shared/times.ts';

const { t } = text;
const MINUTE_MS = 60_000;
const OLD_MINUTES = 15;

/** What must always be seen: contact, age of the list, the newest hold, what is not sent, and what was refused. */
export function Strip({ gate }: { gate: Gate }) {
  useEverySecond();
  const { contact, list, fault, unsent, stops, event } = gate;
  const jumped = gate.jumped();
  const untold = stops.value.filter(({ refused }) => refused === undefined);
  return (
    <div class="strip">
      <p class="event">{event.name}</p>
      <ul class="facts" aria-label={t('strip')}>
        <li
          class={`fact ${contact.value === 'online' ? '' : 'marked'}`}
          data-fact="contact"
          data-contact={contact.value}
        >
          {t(`contact.${contact.value}`)}
        </li>
        <Age list={list.value} timeZone={event.timeZone} now={gate.now()} />
        <li class="fact" data-fact="holds">
          {holdsText(list.value?.snapshot.newestHold?.number)}
        </li>
        {unsent.value > 0 && (
          <li class="fact" data-fact="unsent">
            {t('unsent', { count: unsent.value })}
          </li>
        )}
        {untold.length > 0 && (
          <li class="fact marked" data-fact="untold">
            {t('stop.waiting', { numbers: untold.map(({ carNumber }) => carNumber).join(', ') })}
          </li>
        )}
      </ul>
      {fault.value !== undefined && (
        <p class="warning" role="alert" data-fault={fault.value}>
          {t(`fault.${fault.value}`)} {list.value !== undefined && t('fault.kept')}
        </p>
      )}
      {stops.value
        .filter(({ refused }) => refused !== undefined)
        .map(({ key, carNumber, refused = '' }) => (
          <div key={key} class="warning" role="alert" data-fault="stop-refused">
            <p>{t('stop.refused', { number: carNumber, why: refused })}</p>
            <button type="button" onClick={() => void gate.forgetStop(key)}>
              {t('stop.read')}
            </button>
          </div>
        ))}
      {jumped && (
        <p class="warning" role="alert" data-fault="clock">
          {t('fault.clock')}
        </p>
      )}
      {contact.value === 'no-access' && (
        <p class="warning" role="alert" data-fault="no-access">
          {t('fault.no-access')}
        </p>
      )}
    </div>
  );
}

function holdsText(newest: number | undefined): string {
  return newest === undefined ? t('holds.none') : t('holds.up-to', { number: newest });
}

interface AgeProps {
  list: HeldList | undefined;
  timeZone: string;
  /** given, and not read here: a component whose properties stay the same is not drawn again */
  now: Date;
}

function Age({ list, timeZone, now }: AgeProps) {
  if (list === undefined) {
    return (
      <li class="fact marked" data-fact="age">
        {t('age.none')}
      </li>
    );
  }
  const { snapshot, confirmedAt } = list;
  const minutes = Math.max(0, Math.floor((now.getTime() - confirmedAt) / MINUTE_MS));
  const stale = now.getTime() >= Date.parse(snapshot.staleAfter);
  const old = stale || minutes >= OLD_MINUTES;
  return (
    <li class={`fact ${old ? 'marked' : ''}`} data-fact="age" data-old={old}>
      {t('age', { time: clockTime(new Date(confirmedAt), timeZone, now), age: ageText(minutes) })}
      {stale && ` ${t('age.stale')}`}
    </li>
  );
}

function ageText(minutes: number): string {
  if (minutes < 1) return t('age.now');
  if (minutes < 120) return t('age.minutes', { minutes });
  return t('age.hours', { hours: Math.floor(minutes / 60) });
}

function useEverySecond(): void {
  const [, tick] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => tick((count) => count + 1), 1000);
    return () => clearInterval(timer);
  }, []);
}

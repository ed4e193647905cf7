import { useEffect, useState } from 'preact/hooks';
import type { Limits } from '../../api/operations.ts';
import { defineText } from '../../shared/text.ts';
import { Check } from '../parts/form.tsx';
import { Table } from '../parts/panel.tsx';
import { dayAndTime } from '../parts/office-context.ts';
import { type Effect, type EffectRow, isOdd, type Limit, numberIn, type Value, type Wanted } from './changes.ts';

/** Texts of the limits, loaded with the part itself. */
export const limitsText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = limitsText;

/** The one limit whose options are points of the line, which have names of their own. */
const POINTS = 'alwaysLookPoints';

interface LimitRowsProps {
  limits: readonly Limit[];
  wanted: Wanted;
  disabled: boolean;
  points: Limits['alwaysLook'];
  /** IANA time zone of the venue */
  zone: string;
  onValue(limit: Limit, value: Value | null): void;
}

export function LimitRows({ limits, ...rest }: LimitRowsProps) {
  return (
    <ul class="plain limits" aria-label={t('limits')}>
      {limits.map((limit) => (
        <LimitRow key={limit.name} limit={limit} {...rest} />
      ))}
    </ul>
  );
}

type LimitRowProps = Omit<LimitRowsProps, 'limits'> & { limit: Limit };

function LimitRow({ limit, wanted, disabled, points, zone, onValue }: LimitRowProps) {
  const { name, meaning, value, builtIn, from } = limit;
  const isChanged = name in wanted.limits;
  const now = isChanged ? (wanted.limits[name] ?? builtIn) : value;
  return (
    <li data-limit={name} data-changed={isChanged} class="stack">
      <LimitField {...{ limit, now, disabled, points }} onValue={(next) => onValue(limit, next)} />
      <About {...{ limit, points, zone }} />
      {isChanged && isOdd(limit, now) && <p class="notice look">{t('odd')}</p>}
      <div class="row">
        {(isChanged || from === 'run-group') && !disabled && (
          <button type="button" onClick={() => onValue(limit, isChanged ? value : null)}>
            {t(isChanged ? 'undo' : 'putBack')}
            <span class="unseen"> {meaning}</span>
          </button>
        )}
        <Uses limit={limit} />
      </div>
    </li>
  );
}

/** What it came with, whose it is, why, since when, and what is usual. */
function About({ limit, points, zone }: Pick<LimitRowProps, 'limit' | 'points' | 'zone'>) {
  const { name, builtIn, unit, from, reason, changed, plausible } = limit;
  const parts = [
    t('builtIn', { value: shownValue(builtIn, unit, points, name) }),
    t(`from.${from}`),
    ...(reason === undefined ? [] : [t('reason', { reason })]),
    ...(changed === undefined ? [] : [t('changed', { by: changed.by, at: dayAndTime(changed.at, zone) })]),
    ...(plausible === undefined ? [] : [t('plausible', { from: plausible.from, to: plausible.to, unit: unit ?? '' })]),
  ];
  return <p class="soft">{parts.join(' · ')}</p>;
}

function Uses({ limit: { usedBy, source, name } }: { limit: Limit }) {
  return (
    <details>
      <summary>{t('uses', { count: usedBy.length })}</summary>
      <ul>
        {usedBy.map(({ ruleId, title, effect }) => (
          <li key={ruleId}>
            {title} ({t(`effect.${effect}`)})
          </li>
        ))}
      </ul>
      {source !== undefined && <p>{t('source', { source })}</p>}
      <p>
        <code>{name}</code>
      </p>
    </details>
  );
}

interface LimitFieldProps {
  limit: Limit;
  now: Value;
  disabled: boolean;
  points: Limits['alwaysLook'];
  onValue(value: Value): void;
}

function LimitField({ limit, now, disabled, points, onValue }: LimitFieldProps) {
  const { kind, meaning, options, name } = limit;
  if (kind === 'number' && typeof now === 'number') return <NumberField {...{ limit, now, disabled, onValue }} />;
  if (kind === 'yes-no') {
    return <Check label={meaning} checked={now === true} onChecked={(checked) => !disabled && onValue(checked)} />;
  }
  if (kind === 'list' && Array.isArray(now)) {
    const all = name === POINTS ? points.map(({ id }) => id) : [...new Set([...(options ?? []), ...now])];
    return (
      <fieldset disabled={disabled}>
        <legend>{meaning}</legend>
        <div class="options">
          {all.map((option) => (
            <Check
              key={option}
              label={nameOf(option, points)}
              checked={now.includes(option)}
              // In the order of the options, so that the same choice is the same value.
              onChecked={(on) => onValue(all.filter((one) => (one === option ? on : now.includes(one))))}
            />
          ))}
        </div>
      </fieldset>
    );
  }
  if (options !== undefined) {
    return (
      <label class="field">
        {meaning}
        <select value={String(now)} disabled={disabled} onChange={(event) => onValue(event.currentTarget.value)}>
          {options.map((option) => (
            <option key={option} value={option}>
              {option}
            </option>
          ))}
        </select>
      </label>
    );
  }
  return (
    <label class="field">
      {meaning}
      <input
        {...({ type: kind === 'date' ? 'date' : 'text' } as { type: 'text' })}
        value={String(now)}
        disabled={disabled}
        onChange={(event) => onValue(event.currentTarget.value)}
      />
    </label>
  );
}

/** What is typed stays as it is typed until it is a number. */
function NumberField({ limit, now, disabled, onValue }: Omit<LimitFieldProps, 'points' | 'now'> & { now: number }) {
  const [typed, setTyped] = useState(String(now));
  useEffect(() => {
    if (numberIn(typed) !== now) setTyped(String(now));
  }, [now]);
  const fault = numberIn(typed) === undefined;
  return (
    <label class="field">
      {limit.meaning}
      <span class="row">
        <input
          type="text"
          inputMode="decimal"
          autocomplete="off"
          value={typed}
          disabled={disabled}
          aria-invalid={fault}
          onInput={({ currentTarget: { value } }) => {
            setTyped(value);
            const next = numberIn(value);
            if (next !== undefined) onValue(next);
          }}
        />
        {limit.unit}
      </span>
      {fault && <span class="fault">{t('noNumber')}</span>}
    </label>
  );
}

const nameOf = (option: string, points: Limits['alwaysLook']): string =>
  points.find(({ id }) => id === option)?.title ?? option;

function shownValue(value: Value, unit: string | undefined, points: Limits['alwaysLook'], name: string): string {
  if (typeof value === 'boolean') return t(value ? 'yes' : 'no');
  if (Array.isArray(value)) {
    return value.map((one) => (name === POINTS ? nameOf(one, points) : one)).join(', ') || t('none');
  }
  return unit === undefined ? String(value) : `${String(value)} ${unit}`;
}

const EFFECTS: readonly Effect[] = ['bar', 'inspect', 'advise'];

interface EffectRowsProps {
  effects: readonly EffectRow[];
  wanted: Wanted;
  disabled: boolean;
  onEffect(row: EffectRow, effect: Effect | null): void;
}

/** What each rule does here when it is not met. */
export function EffectRows({ effects, wanted, disabled, onEffect }: EffectRowsProps) {
  const caption = t('effects', { count: effects.length });
  return (
    <details>
      <summary>{caption}</summary>
      <Table caption={caption} head={[t('rule'), t('effect'), t('builtInEffect')]}>
        {effects.map((row) => (
          <tr key={row.ruleId} data-rule={row.ruleId}>
            <th scope="row">
              {row.title}
              {row.floor && <span class="soft"> {t('floor')}</span>}
              {row.safetyCritical && <span class="soft"> {t('critical')}</span>}
            </th>
            <td>
              <select
                aria-label={t('effectOf', { rule: row.title })}
                disabled={disabled}
                value={wanted.effects[row.ruleId] ?? row.effect}
                onChange={({ currentTarget: { value } }) => {
                  const next = EFFECTS.find((one) => one === value) ?? row.effect;
                  onEffect(row, next === row.builtIn && row.from === 'run-group' ? null : next);
                }}
              >
                {EFFECTS.map((one) => (
                  <option key={one} value={one}>
                    {t(`effect.${one}`)}
                  </option>
                ))}
              </select>
            </td>
            <td>
              {t(`effect.${row.builtIn}`)}
              {row.reason !== undefined && <span class="soft"> {t('reason', { reason: row.reason })}</span>}
            </td>
          </tr>
        ))}
      </Table>
    </details>
  );
}

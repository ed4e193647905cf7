import { useId, useState } from 'preact/hooks';
import type { EntryView, LiftHoldInput } from '../../api/operations.ts';
import './lift.css';
import { holdsText } from './unsent-stops.tsx';

const { t } = holdsText;

export type StandingHold = EntryView['holds'][number];

/** A point that a lift asks for. */
export type LiftPoint = StandingHold['inspectAgain'][number];

/** How the car gets its clearance back: its points were looked at, the line looks, or a chief answers for it. */
type Way = 'points' | 'line' | 'exception';

interface Seen {
  ok: boolean;
  note: string;
}

const NOT_SEEN: Seen = { ok: false, note: '' };

/** What is filled in to lift a hold, and what is sent of it. */
export function useLift({ inspectAgain }: Pick<StandingHold, 'inspectAgain'>) {
  // Where nothing is asked for, the line looks unless somebody says otherwise.
  const [way, setWay] = useState<Way>(inspectAgain.length === 0 ? 'line' : 'points');
  const [reason, setReason] = useState('');
  const [seen, setSeen] = useState<Readonly<Record<string, Seen>>>({});
  const body = (): LiftHoldInput => {
    if (way === 'line') return { reason, requireReinspection: true };
    const checks = Object.entries(seen)
      .filter(([, { ok }]) => ok)
      .map(([item, { note }]) => ({
        item,
        result: 'ok' as const,
        ...(note.trim() === '' ? {} : { note: note.trim() }),
      }));
    // The chief's exception has one reason: it is both what was found and why the points may stay open.
    return way === 'exception' ? { reason, checks, exception: reason } : { reason, checks };
  };
  return { way, setWay, reason, setReason, seen, setSeen, body };
}

interface LiftFieldsProps {
  lift: ReturnType<typeof useLift>;
  points: readonly LiftPoint[];
  /** points that the server found open when it was sent */
  open: readonly LiftPoint[];
  /** a chief or an organizer, who may do without the points */
  mayExcept: boolean;
}

/** The points that a lift asks for, each to be ticked with what was found; or the line again; or the chief's exception. */
export function LiftFields({ lift, points, open, mayExcept }: LiftFieldsProps) {
  const { way, setWay, seen, setSeen } = lift;
  const name = useId();
  const asked = [...points, ...open.filter(({ item }) => points.every((point) => point.item !== item))];
  const ways: readonly Way[] = ['points', 'line', ...(mayExcept && asked.length > 0 ? ['exception' as const] : [])];
  return (
    <>
      <fieldset class="stack ways">
        <legend>{t('lift.way')}</legend>
        {ways.map((one) => (
          <label key={one} class="check">
            <input type="radio" name={name} checked={way === one} onChange={() => setWay(one)} />
            <span>{one === 'points' && asked.length === 0 ? t('lift.way.as-is') : t(`lift.way.${one}`)}</span>
          </label>
        ))}
      </fieldset>
      {way !== 'line' && asked.length > 0 && (
        <fieldset class="stack lift-points">
          <legend>{t('lift.points')}</legend>
          {open.length > 0 && (
            <p class="fault" role="alert">
              {t('lift.open', { points: open.map(({ label }) => label).join('; ') })}
            </p>
          )}
          {asked.map(({ item, label }) => (
            <Point
              key={item}
              label={label}
              seen={seen[item] ?? NOT_SEEN}
              onSeen={(now) => setSeen({ ...seen, [item]: now })}
            />
          ))}
        </fieldset>
      )}
    </>
  );
}

function Point({ label, seen, onSeen }: { label: string; seen: Seen; onSeen(seen: Seen): void }) {
  const id = useId();
  return (
    <div class="lift-point">
      <label class="check">
        <input
          type="checkbox"
          checked={seen.ok}
          onChange={({ currentTarget }) => onSeen({ ...seen, ok: currentTarget.checked })}
        />
        <span>{t('lift.seen', { point: label })}</span>
      </label>
      {seen.ok && (
        <>
          <label for={id}>{t('lift.note', { point: label })}</label>
          <input
            id={id}
            maxLength={300}
            value={seen.note}
            onInput={({ currentTarget }) => onSeen({ ...seen, note: currentTarget.value })}
          />
        </>
      )}
    </div>
  );
}

/** The points that a refusal names as open; none where it is about something else. */
export function openPointsIn(problem: { code: string; standing?: unknown }): readonly LiftPoint[] {
  if (problem.code !== 'points-not-checked' || !Array.isArray(problem.standing)) return [];
  return problem.standing.filter(
    (one): one is LiftPoint => typeof one === 'object' && one !== null && 'item' in one && 'label' in one,
  );
}

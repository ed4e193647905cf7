import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { DecidePanel } from '../decide/decide-panel.tsx';
import { EndedView, OutcomeView, UnsentView } from '../decide/outcome-view.tsx';
import { lastSafeText } from '../../shared/last-safe.ts';
import { dayAndTime, minutesSeconds, now, serverNow } from '../format.ts';
import { HistoryButton } from './history-dialog.tsx';
import { keepLease, putBack, renew, takeUp } from '../state/claims.ts';
import { type Station, worksheetOf } from '../state/station.ts';
import type { Worksheet } from '../state/worksheet.ts';
import { go } from '../state/route.ts';
import { unsentSignOff } from '../state/sign-off.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';
import { Points } from './points.tsx';

const LITTLE_MS = 120_000;

/** How long the car is still this inspector's, always in sight; renewed by itself while somebody works. */
function LeaseBar({ station, worksheet }: { station: Station; worksheet: Worksheet }) {
  const { claimId, claim, expiresAt } = worksheet;
  const restMs = Date.parse(expiresAt) - now.value;
  useEffect(() => keepLease(station, claimId), [station, claimId]);
  const isOver = Date.parse(expiresAt) <= serverNow();
  const isLittle = restMs < LITTLE_MS;
  return (
    <div class={`lease row spread${isLittle ? ' little' : ''}`}>
      <strong class="number lease-number" aria-hidden="true">
        {claim.carNumber}
      </strong>
      <span class="number" role="timer" aria-label={t('lease.label')}>
        {isOver ? t('lease.over') : t('lease.rest', { time: minutesSeconds(restMs) })}
      </span>
      <button type="button" class="glove" onClick={() => void renew(station, claimId)}>
        {t('lease.renew')}
      </button>
    </div>
  );
}

const { t } = text;

/** One car in the hands of the inspector, from the claim to the answer of the server. */
export function CarPage({ station, claimId }: { station: Station; claimId: string }) {
  const worksheet = worksheetOf(station, claimId);
  const waiting = unsentSignOff(station, claimId);
  if (worksheet === undefined) return <NotHere station={station} claimId={claimId} />;
  if (worksheet.outcome !== undefined)
    return <OutcomeView station={station} worksheet={worksheet} outcome={worksheet.outcome} />;
  if (waiting !== undefined) return <UnsentView station={station} worksheet={worksheet} waiting={waiting} />;
  if (worksheet.ended !== undefined)
    return <EndedView station={station} worksheet={worksheet} ended={worksheet.ended} />;
  return (
    <>
      <LeaseBar station={station} worksheet={worksheet} />
      <CarHeader station={station} worksheet={worksheet} />
      <Refusals worksheet={worksheet} />
      <Concessions worksheet={worksheet} timeZone={station.event.timeZone} />
      {worksheet.claim.lastSafe !== undefined && (
        <p class="notice look">{lastSafeText(worksheet.claim.lastSafe, station.event.timeZone)}</p>
      )}
      <Points station={station} worksheet={worksheet} />
      <DecidePanel station={station} worksheet={worksheet} />
    </>
  );
}

/** What the car was refused for before: first, because each of it needs a new value or state. */
function Refusals({ worksheet: { claim } }: { worksheet: Worksheet }) {
  // A claim that was kept by a version from before has none.
  const refusals = (claim as Partial<Worksheet['claim']>).refusals ?? [];
  if (refusals.length === 0) return null;
  return (
    <section class="notice bad stack" aria-labelledby="refusals-heading">
      <h3 id="refusals-heading">{t('refusals.heading')}</h3>
      {refusals.map(({ runGroup, note }, place) => (
        // Two refusals may have the same words; the list stays as it is.
        <p key={place}>
          <strong>{note}</strong> ({runGroup})
        </p>
      ))}
      <p>{t('refusals.again')}</p>
    </section>
  );
}

/** A claim in the address that this device does not have: the server may. */
function NotHere({ station, claimId }: { station: Station; claimId: string }) {
  const why = useSignal<string | undefined>(undefined);
  useEffect(() => {
    void takeUp(station, claimId).then((done) => {
      if (!done.ok) why.value = whyNot(done.why);
    });
  }, [station, claimId]);
  return (
    <section class="stack">
      <p role="status">{why.value ?? t('car.looking')}</p>
      <button type="button" class="glove" onClick={() => go({ view: 'line' })}>
        {t('car.back')}
      </button>
    </section>
  );
}

/** Which car this is: number, look, group and driver, so that nobody works on the wrong one. */
function CarHeader({ station, worksheet }: { station: Station; worksheet: Worksheet }) {
  const { claim, driver, claimId } = worksheet;
  const heading = useRef<HTMLHeadingElement>(null);
  const why = useSignal<string | undefined>(undefined);
  useEffect(() => heading.current?.focus(), [claimId]);
  const back = async (notHere: boolean) => {
    const done = await putBack(station, claimId, { notHere });
    if (done.ok) go({ view: 'line' });
    else why.value = whyNot(done.why);
  };
  return (
    <section class="panel stack">
      <div class="row">
        <h2 class="car-title number" ref={heading} tabIndex={-1}>
          <span class="unseen">{t('car.number')} </span>
          {claim.carNumber}
        </h2>
        <div class="grow">
          <p class="car-look">{claim.vehicle}</p>
          <p>
            <strong>{claim.runGroup}</strong>
            {driver !== undefined && ` · ${driver}`}
          </p>
          <p class={claim.verdict === 'clean' ? '' : 'look-at'}>
            {t(`verdict.${claim.verdict}`)} · {t('car.revision', { revision: claim.revision })}
          </p>
        </div>
      </div>
      <div class="row">
        <button type="button" class="glove" onClick={() => go({ view: 'line' })}>
          {t('car.back')}
        </button>
        <button type="button" class="glove" onClick={() => void back(false)}>
          {t('car.put-back')}
        </button>
        <button type="button" class="glove" onClick={() => void back(true)}>
          {t('car.not-here')}
        </button>
        <HistoryButton station={station} entryId={claim.entryId} number={claim.carNumber} />
      </div>
      {why.value !== undefined && (
        <p class="notice look" role="alert">
          {why.value}
        </p>
      )}
    </section>
  );
}

/** Exceptions in force for this car; what they ask for becomes a condition by itself. */
function Concessions({ worksheet, timeZone }: { worksheet: Worksheet; timeZone: string }) {
  const { concessions, manyConcessions } = worksheet.claim;
  if (concessions.length === 0) return null;
  return (
    <section class="notice look stack" aria-labelledby="concessions-heading">
      <h3 id="concessions-heading">{t('concessions.heading', { count: concessions.length })}</h3>
      {manyConcessions && <p>{t('concessions.many')}</p>}
      <ul>
        {concessions.map(({ concessionId, title, reason, condition, expiresAt }) => (
          <li key={concessionId}>
            <strong>{title}</strong>: {reason}. {t('concessions.until', { time: dayAndTime(expiresAt, timeZone) })}
            {condition !== undefined && ` ${t('concessions.condition', { condition })}`}
          </li>
        ))}
      </ul>
    </section>
  );
}

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { DecidePanel } from '../decide/decide-panel.tsx';
import { EndedView } from '../decide/ended-view.tsx';
import { OutcomeView } from '../decide/outcome-view.tsx';
import { UnsentView } from '../decide/unsent-view.tsx';
import { takeUp } from '../state/claims.ts';
import { type Desk, draftOf } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { go } from '../state/route.ts';
import { unsentSignOff } from '../state/sign-off.ts';
import { text } from '../text.ts';
import { whyNot } from '../why-not.ts';
import { CarHeader } from './car-header.tsx';
import { Concessions } from './concessions.tsx';
import { LeaseBar } from './lease-bar.tsx';
import { Points } from './points.tsx';

const { t } = text;

/** One car in the hands of the inspector, from the claim to the answer of the server. */
export function CarPage({ desk, claimId }: { desk: Desk; claimId: string }) {
  const draft = draftOf(desk, claimId);
  const waiting = unsentSignOff(desk, claimId);
  if (draft === undefined) return <NotHere desk={desk} claimId={claimId} />;
  if (draft.outcome !== undefined) return <OutcomeView desk={desk} draft={draft} outcome={draft.outcome} />;
  if (waiting !== undefined) return <UnsentView desk={desk} draft={draft} waiting={waiting} />;
  if (draft.ended !== undefined) return <EndedView desk={desk} draft={draft} ended={draft.ended} />;
  return (
    <>
      <LeaseBar desk={desk} draft={draft} />
      <CarHeader desk={desk} draft={draft} />
      <Refusals draft={draft} />
      <Concessions draft={draft} timeZone={desk.event.timeZone} />
      <Points desk={desk} draft={draft} />
      <DecidePanel desk={desk} draft={draft} />
    </>
  );
}

/** What the car was refused for before: first, because each of it needs a new value or state. */
function Refusals({ draft: { claim } }: { draft: Draft }) {
  // A claim that was kept by a version from before has none.
  const refusals = (claim as Partial<Draft['claim']>).refusals ?? [];
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
function NotHere({ desk, claimId }: { desk: Desk; claimId: string }) {
  const why = useSignal<string | undefined>(undefined);
  useEffect(() => {
    void takeUp(desk, claimId).then((done) => {
      if (!done.ok) why.value = whyNot(done.why);
    });
  }, [desk, claimId]);
  return (
    <section class="stack">
      <p role="status">{why.value ?? t('car.looking')}</p>
      <button type="button" class="glove" onClick={() => go({ view: 'line' })}>
        {t('car.back')}
      </button>
    </section>
  );
}

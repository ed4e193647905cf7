import type { Signal } from '@preact/signals';
import { minutesSeconds } from '../format.ts';
import { takeUp } from '../state/claims.ts';
import { now } from '../state/clock.ts';
import { type Desk, draftOf } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { go } from '../state/route.ts';
import { unsentSignOff } from '../state/sign-off.ts';
import { text } from '../text.ts';
import { whyNot } from '../why-not.ts';

const { t } = text;

/** The cars in this person's hands: on this device, and by the server. */
export function Mine({ desk, message }: { desk: Desk; message: Signal<string | undefined> }) {
  const here = desk.drafts.value;
  const elsewhere = (desk.line.value.view?.tickets ?? []).filter(
    ({ claimId, claimedBy }) =>
      claimId !== undefined && claimedBy === desk.session.holder && draftOf(desk, claimId) === undefined,
  );
  if (here.length + elsewhere.length === 0) return null;
  const open = async (claimId: string) => {
    const done = await takeUp(desk, claimId);
    if (done.ok) go({ view: 'car', claimId });
    else message.value = whyNot(done.why);
  };
  return (
    <section class="stack" aria-labelledby="mine-heading">
      <h2 id="mine-heading">{t('mine.heading')}</h2>
      <ul class="tickets">
        {here.map((draft) => (
          <Row key={draft.claimId} number={draft.claim.carNumber} state={stateOf(desk, draft)}>
            {() => go({ view: 'car', claimId: draft.claimId })}
          </Row>
        ))}
        {elsewhere.map(({ claimId = '', carNumber }) => (
          <Row key={claimId} number={carNumber} state={t('mine.elsewhere')}>
            {() => void open(claimId)}
          </Row>
        ))}
      </ul>
    </section>
  );
}

function Row({ number, state, children }: { number: string; state: string; children: () => void }) {
  return (
    <li class="ticket own">
      <span class="car-number number">{number}</span>
      <button type="button" class="glove primary" onClick={children} aria-label={t('mine.continue.car', { number })}>
        {t('mine.continue')}
      </button>
      <span class="about number">{state}</span>
    </li>
  );
}

function stateOf(desk: Desk, draft: Draft): string {
  if (unsentSignOff(desk, draft.claimId) !== undefined) return t('unsent.title');
  if (draft.outcome !== undefined) return t('mine.outcome', { decision: t(`decided.${draft.outcome.decision}`) });
  if (draft.ended !== undefined) return t('mine.ended');
  if (draft.refusal !== undefined) return t('mine.refused');
  return t('mine.lease', { time: minutesSeconds(Date.parse(draft.expiresAt) - now.value) });
}

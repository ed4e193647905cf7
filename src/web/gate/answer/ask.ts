import { useRef, useState } from 'preact/hooks';
import type { NumberedCar } from '../../../domain/look-alikes.ts';
import { call } from '../../api/call.ts';
import { type GateAnswer, lookUpCar } from '../../api/operations.ts';
import type { StopOrder } from '../../shared/stops.ts';
import { type Answer, type Asked, cannotTell, fromList, fromServer, lastKnownOf, twinsIn, withStop } from './answer.ts';
import { contactAfter, type GateState, logCheck, refusedIn, withAnswer } from '../kept/check-log.ts';
import { writeKept } from '../kept/gate-store.ts';
import type { Gate } from '../gate.ts';

/** A car stands at the gate: longer than this nobody waits for a network. */
const ASK_MS = 2000;

/**
 * The server's answer, which counts whenever there is one in time: it is decided at this instant. Undefined without:
 * then the list answers. While there is no contact the server is not asked at all, so that nobody waits for nothing.
 */
export async function askServer(state: GateState, asked: Asked): Promise<Answer | undefined> {
  const { contact, token, eventId } = state;
  if (contact.value === 'offline') return undefined;
  if (contact.value === 'no-access') return cannotTell(asked, 'no-access');
  try {
    const { carNumber, runGroupId } = asked;
    const query = runGroupId === undefined ? {} : { runGroupId };
    const reply = await call(lookUpCar, { params: { eventId, carNumber }, query }, { token, timeoutMs: ASK_MS });
    contact.value = 'online';
    // Not waited for: what is in memory counts until the next start.
    void heard(state, reply.body);
    return fromServer(reply.body, asked);
  } catch (error) {
    return withoutAnswer(state, asked, error);
  }
}

/** Remembers what the server refused just now. */
export async function heard(state: GateState, body: GateAnswer): Promise<void> {
  state.refusals = withAnswer(state.refusals, body);
  await writeKept('refusals', state.refusals);
}

function withoutAnswer({ contact }: GateState, asked: Asked, error: unknown): Answer | undefined {
  const after = contactAfter(error) ?? 'offline';
  contact.value = after;
  if (after === 'offline') return undefined;
  if (after === 'no-access') return cannotTell(asked, 'no-access');
  // The server is there and refuses to answer this: the list must not answer in its place.
  return cannotTell(asked, 'refused', { reason: error instanceof Error ? error.message : '' });
}

/** What this device says by itself. It is written down first: no answer is given that nobody would ever hear of. */
export async function answerAlone(state: GateState, asked: Asked): Promise<Answer> {
  const { eventId, clock, list } = state;
  const answer = withStop(decide(state, asked), state.stops());
  try {
    await logCheck(eventId, answer, clock.now().from, list.value?.snapshot.seq ?? 0);
    return answer;
  } catch {
    return cannotTell(asked, 'no-log', { lastKnown: answer.lastKnown });
  }
}

function decide({ clock, list, refusals }: GateState, asked: Asked): Answer {
  const snapshot = list.value?.snapshot;
  if (snapshot === undefined) return cannotTell(asked, 'no-list');
  if (clock.jumped()) return cannotTell(asked, 'clock', { lastKnown: lastKnownOf(snapshot, asked) });
  return fromList(snapshot, asked, clock.now(), refusedIn(refusals));
}

/** What is asked at the gate: the number typed, the cars to choose among where it has twins, and the answer. */
export function useQuestion(gate: Gate) {
  const [number, setNumber] = useState('');
  const [asking, setAsking] = useState(false);
  const [answer, setAnswer] = useState<Answer>();
  const [twins, setTwins] = useState<readonly NumberedCar[]>([]);
  // Counts what was asked: an answer that comes after the next question belongs to nobody.
  const turn = useRef(0);

  const clear = () => {
    turn.current += 1;
    setAsking(false);
    setAnswer(undefined);
    setTwins([]);
    setNumber('');
  };
  /** @param chosen among the cars that are the same when spoken */
  const ask = (carNumber: string, runGroupId?: string, chosen = false) => {
    if (carNumber === '') return;
    const mine = ++turn.current;
    setNumber(carNumber);
    setAnswer(undefined);
    const before = chosen ? [] : gate.twins(carNumber);
    setTwins(before);
    if (before.length > 0) return;
    setAsking(true);
    void gate.ask({ carNumber, runGroupId }).then((answered) => {
      if (turn.current !== mine) return;
      setAsking(false);
      // A device without a list learns of twins by the answer, which then waits for the choice.
      const among = chosen ? [] : twinsIn(answered);
      if (among.length > 0) setTwins(among);
      else setAnswer(answered);
    });
  };
  const stop = (hold: StopOrder['hold']) => {
    if (answer !== undefined) setAnswer(gate.stop(answer, hold));
  };
  return { number, setNumber, asking, answer, twins, ask, stop, clear };
}

import { useRef, useState } from 'preact/hooks';
import type { NumberedCar } from '../../domain/look-alikes.ts';
import type { StopOrder } from '../shared/stops.ts';
import { type Answer, twinsIn } from './answer.ts';
import type { Gate } from './gate.ts';

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
    void gate.ask({ carNumber, runGroupId }).then((told) => {
      if (turn.current !== mine) return;
      setAsking(false);
      // A device without a list learns of twins by the answer, which then waits for the choice.
      const among = chosen ? [] : twinsIn(told);
      if (among.length > 0) setTwins(among);
      else setAnswer(told);
    });
  };
  const stop = (hold: StopOrder['hold']) => {
    if (answer !== undefined) setAnswer(gate.stop(answer, hold));
  };
  return { number, setNumber, asking, answer, twins, ask, stop, clear };
}

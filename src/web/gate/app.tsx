import { useEffect, useState } from 'preact/hooks';
import { Frame } from '../shared/frame.tsx';
import { keepStorage, registerWorker } from '../shared/register-worker.ts';
import type { Session } from '../shared/session.ts';
import { words } from '../shared/words.ts';
import { isOn } from '../shared/times.ts';
import { Desk } from './desk.tsx';
import { EventChoice } from './event-choice.tsx';
import { type Gate, openGate } from './gate.ts';
import { type KeptEvent, readKept, writeKept } from './gate-store.ts';
import { pinKeys } from './pinned-keys.ts';
import { text } from './text.ts';

type State =
  | { shows: 'loading' }
  | { shows: 'choice'; alone: boolean; kept: KeptEvent | undefined }
  | { shows: 'desk'; gate: Gate };

/** The gate: first which event, then the desk. A device that knows its event starts without a network. */
export function GateApp({ session: { token } }: { session: Session }) {
  const [state, setState] = useState<State>({ shows: 'loading' });
  const start = async (event: KeptEvent): Promise<void> => {
    await writeKept('event', event);
    setState({ shows: 'desk', gate: await openGate({ event, token }) });
  };
  useEffect(() => {
    void registerWorker('gate');
    void keepStorage();
    // Where it fails, the first list has it tried again.
    void pinKeys().catch(() => undefined);
    void readKept('event').then((event) => {
      const serves = event !== undefined && (isOn(event, new Date()) || !navigator.onLine);
      return serves ? start(event) : setState({ shows: 'choice', alone: true, kept: event });
    });
  }, [token]);
  if (state.shows === 'desk') {
    const { gate } = state;
    return <Desk gate={gate} otherEvent={() => setState({ shows: 'choice', alone: false, kept: gate.event })} />;
  }
  if (state.shows === 'choice') {
    return <EventChoice token={token} alone={state.alone} kept={state.kept} choose={(event) => void start(event)} />;
  }
  return (
    <Frame title={text.t('title')}>
      <p role="status">{words.t('loading')}</p>
    </Frame>
  );
}

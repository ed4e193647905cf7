import { useRef, useState } from 'preact/hooks';
import { call } from '../api/call.ts';
import { type LogEntryInput, writeLog, type WrittenLog } from '../api/operations.ts';
import { words } from '../shared/words.ts';
import { useGarage } from './context.ts';
import { pull } from './kept/sync.ts';
import { text } from './text.ts';

const { t } = text;

/** With these nobody drives on: each stops the car. */
const STOPS = [
  'smell-of-fuel',
  'smell-of-burning',
  'long-pedal-after-laps',
  'pulls-under-braking',
  'temperature-rising',
  'oil-pressure-drops-in-corners',
] as const;

/** What was measured or felt after a session: written down at once, beside the declaration. */
export function LogPanel() {
  const { declaration } = useGarage();
  const entry = declaration.entry.value;
  const [said, setSaid] = useState<WrittenLog>();
  const [fault, setFault] = useState<string>();
  // One key per thing that is written: pressed again after a lost network, it is the same one.
  const key = useRef({ body: '', id: '' });
  if (declaration.isTyped || entry === undefined || entry.clearance.status === 'withdrawn') return null;
  const write = async (body: LogEntryInput): Promise<void> => {
    const text = JSON.stringify(body);
    if (key.current.body !== text) key.current = { body: text, id: crypto.randomUUID() };
    setFault(undefined);
    try {
      const params = { entryId: declaration.entryId };
      const headers = { 'idempotency-key': key.current.id };
      const { body: written } = await call(writeLog, { params, headers, body }, { token: declaration.session.token });
      key.current = { body: '', id: '' };
      setSaid(written);
      await pull(declaration);
    } catch (error) {
      setFault(error instanceof Error ? error.message : words.t('network.none'));
    }
  };
  return (
    <details class="panel no-print" id="log">
      <summary>{t('log.title')}</summary>
      <div class="stack">
        <TorqueForm onWrite={write} />
        <p id="log-felt">{t('log.felt')}</p>
        <div class="row">
          {STOPS.map((symptom) => (
            <button
              key={symptom}
              type="button"
              class="bad"
              aria-describedby="log-felt"
              onClick={() => void write({ kind: 'symptom', symptoms: [symptom] })}
            >
              {t(`log.${symptom}`)}
            </button>
          ))}
        </div>
        {said !== undefined && (
          <div class="notice" role="status">
            {t('log.written')} {said.says.join(' ')}
          </div>
        )}
        {fault !== undefined && (
          <p class="notice bad" role="alert">
            {fault}
          </p>
        )}
      </div>
    </details>
  );
}

function TorqueForm({ onWrite }: { onWrite(body: LogEntryInput): Promise<void> }) {
  const [torque, setTorque] = useState('');
  const [cooled, setCooled] = useState(false);
  const send = (event: Event): void => {
    event.preventDefault();
    const value = Number(torque.replace(',', '.'));
    const values = { 'wheel.torque-setting': torque.trim() === '' ? null : Number.isNaN(value) ? torque : value };
    void onWrite({ kind: 'torque', values, wheelsCooled: cooled });
  };
  return (
    <form class="stack" onSubmit={send}>
      <label>
        {t('log.torque')}{' '}
        <input inputMode="decimal" value={torque} onInput={({ currentTarget }) => setTorque(currentTarget.value)} />
      </label>
      <label class="option">
        <input type="checkbox" checked={cooled} onChange={({ currentTarget }) => setCooled(currentTarget.checked)} />
        <span>{t('log.cooled')}</span>
      </label>
      <div class="row">
        <button type="submit">{t('log.write')}</button>
      </div>
    </form>
  );
}

import { useState } from 'preact/hooks';
import type { EntryView } from '../api/operations.ts';
import type { FormView } from './kept/form.ts';
import { words } from '../shared/text.ts';
import { type StopKind, sentOrThrow } from '../shared/stops.ts';
import { UnsentStops } from '../shared/holds/unsent-stops.tsx';
import { useGarage } from './context.ts';
import type { Declaration } from './kept/declaration.ts';
import { stopsCar } from './session/entries.ts';
import { pull } from './kept/sync.ts';
import { text } from './text.ts';

const { t } = text;

/** The entrant stops his own car: said once it stands until the staff lifts it. */
export function StopPanel({ form }: { form: FormView }) {
  const { declaration } = useGarage();
  const entry = declaration.entry.value;
  const stops = declaration.stops.value;
  if (stops === undefined || entry === undefined || entry.clearance.status === 'withdrawn') return null;
  const own = entry.holds.find(({ byEntrant }) => byEntrant);
  const isUntold = declaration.logs.value?.waiting.value.some(({ body }) => stopsCar(body)) === true;
  return (
    <>
      <UnsentStops stops={stops} advice={t('stop.say-it')} />
      {isUntold && (
        <section class="notice look stack untold no-print" role="status">
          <strong>{t('session.stops')}</strong>
          <p>{t('stop.say-it')}</p>
        </section>
      )}
      {own !== undefined && <Standing hold={own} />}
      {own === undefined && stops.waiting.value.length === 0 && (
        <Ask declaration={declaration} entry={entry} form={form} />
      )}
    </>
  );
}

/** The ways to what is written down after a session, and to what is to be done until the event. */
export function WaysOn() {
  const { declaration, go } = useGarage();
  const { logs, entry } = declaration;
  if (logs.value === undefined || entry.value === undefined || entry.value.clearance.status === 'withdrawn')
    return null;
  return (
    <p class="row no-print">
      <button type="button" onClick={() => go({ name: 'session' })}>
        {t('session.open')}
      </button>
      <button type="button" onClick={() => go({ name: 'countdown' })}>
        {t('countdown.open')}
      </button>
    </p>
  );
}

/** What stands, and how it ends. */
function Standing({ hold: { reason, inspectAgain } }: { hold: EntryView['holds'][number] }) {
  return (
    <section class="notice bad stack no-print" aria-labelledby="stopped">
      <h2 id="stopped">{t('stop.stands')}</h2>
      <p>
        <strong>{reason}</strong>
      </p>
      <p>{t('stop.lifted-by')}</p>
      {inspectAgain.length > 0 && (
        <>
          <p>{t('stop.looked-at')}</p>
          <ul>
            {inspectAgain.map(({ item, label }) => (
              <li key={item}>{label}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}

/** What an entrant can know of his own car. */
const OWN_KINDS = ['contact', 'leak', 'smoke', 'noise', 'other'] as const satisfies readonly StopKind[];

interface AskProps {
  declaration: Declaration;
  entry: EntryView;
  form: FormView;
}

function Ask({ declaration, entry: { eventId, entryId }, form: { carNumber } }: AskProps) {
  const [open, setOpen] = useState(false);
  const [fault, setFault] = useState<string>();
  const stops = declaration.stops.value;
  const stop = async (kind: (typeof OWN_KINDS)[number]): Promise<void> => {
    if (stops === undefined) return;
    setFault(undefined);
    const hold = { kind, reason: t('stop.reason', { why: t(`stop.${kind}`) }) };
    try {
      const sent = await sentOrThrow(stops, stops.hold({ eventId, entryId, carNumber, hold }));
      if (sent === 'sent') await pull(declaration);
    } catch (error) {
      setFault(error instanceof Error ? error.message : String(error));
    }
  };
  if (!open) {
    return (
      <p class="row no-print">
        <button type="button" onClick={() => setOpen(true)}>
          {t('stop.open')}
        </button>
      </p>
    );
  }
  return (
    <section class="panel stack no-print" aria-labelledby="stop-why">
      <h2 id="stop-why">{t('stop.why')}</h2>
      <p>{t('stop.meaning')}</p>
      <div class="row">
        {OWN_KINDS.map((kind) => (
          <button key={kind} type="button" class="bad" onClick={() => void stop(kind)}>
            {t(`stop.${kind}`)}
          </button>
        ))}
        <button type="button" onClick={() => setOpen(false)}>
          {words.t('cancel')}
        </button>
      </div>
      {fault !== undefined && (
        <p class="notice bad" role="alert">
          {fault}
        </p>
      )}
    </section>
  );
}

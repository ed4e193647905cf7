import { useState } from 'preact/hooks';
import type { EventPreview } from '../../api/operations.ts';
import { Area, Form } from '../parts/form.tsx';
import type { Trouble } from '../parts/panel.tsx';
import { toWallClock } from '../../shared/wall-clock.ts';
import { text } from '../text.ts';

const { t } = text;

interface MovedCarsProps {
  preview: EventPreview;
  /** IANA time zone of the venue */
  zone: string;
  onChange(reason: string): Promise<void>;
  onCancel(): void;
  onTrouble(trouble: Trouble | undefined): void;
}

/** What other days do to the cars that are signed off; why, and only then it can be done. */
export function MovedCars({ preview, zone, onChange, onCancel, onTrouble }: MovedCarsProps) {
  const { signedOff, follows, keeps, ends, lineAgain } = preview;
  const [reason, setReason] = useState('');
  return (
    <section class="stack notice look" data-preview={preview.preview} aria-label={t('event.moves')}>
      <h4>{t('event.moves')}</h4>
      <p>{t('event.moves.signedOff', { count: signedOff })}</p>
      <ul>
        {lineAgain > 0 && <li data-count="line-again">{t('event.moves.lineAgain', { count: lineAgain })}</li>}
        {ends > 0 && <li data-count="ends">{t('event.moves.ends', { count: ends })}</li>}
        {keeps > 0 && <li data-count="keeps">{t('event.moves.keeps', { count: keeps })}</li>}
        {follows > 0 && <li data-count="follows">{t('event.moves.follows', { count: follows })}</li>}
      </ul>
      <Cars of={preview} zone={zone} />
      <Form
        label={t('event.moves.send')}
        submit={t('event.moves.send')}
        tone={ends + lineAgain > 0 ? 'bad' : 'primary'}
        onSend={() => onChange(reason)}
        {...{ onCancel, onTrouble }}
      >
        <Area
          label={t('event.moves.why')}
          hint={t('event.moves.whyHint')}
          pointer="/reason"
          value={reason}
          onValue={setReason}
        />
      </Form>
    </section>
  );
}

/** Every car by number, those that lose their clearance first. */
function Cars({ of, zone }: { of: EventPreview; zone: string }) {
  const order = ['line-again', 'ends', 'keeps', 'follows'] as const;
  const time = (instant: string | null): string =>
    instant === null ? '–' : toWallClock(instant, zone).replace('T', ' ');
  const cars = order.flatMap((outcome) => of.cars.filter((car) => car.outcome === outcome));
  return (
    <details open={of.ends + of.lineAgain > 0}>
      <summary>{t('event.moves.cars')}</summary>
      <ul>
        {cars.map(({ entryId, carNumber, outcome, before, validUntil }) => (
          <li key={entryId}>
            <strong>{t('car', { number: carNumber })}</strong>:{' '}
            {t(`event.moves.car.${outcome}`, { before: time(before), until: time(validUntil) })}
          </li>
        ))}
      </ul>
    </details>
  );
}

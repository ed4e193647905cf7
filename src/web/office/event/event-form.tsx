import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  changeEvent,
  type EventChangesInput,
  type EventPreview,
  type EventView,
  getEvent,
  previewEvent,
} from '../../api/operations.ts';
import { fromWallClock, toWallClock } from '../../shared/wall-clock.ts';
import { type OfficeContext, say, useValues } from '../parts/office-context.ts';
import { Area, Form, Input, Select } from '../parts/form.tsx';
import type { Trouble } from '../parts/panel.tsx';
import { text } from '../text.ts';

interface MovedCarsProps {
  preview: EventPreview;
  /** IANA time zone of the venue */
  zone: string;
  onChange(reason: string): Promise<void>;
  onCancel(): void;
  onTrouble(trouble: Trouble | undefined): void;
}

/** What other days do to the cars that are signed off; why, and only then it can be done. */
function MovedCars({ preview, zone, onChange, onCancel, onTrouble }: MovedCarsProps) {
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

const { t } = text;

interface EventFormProps {
  event: EventView;
  etag: string | undefined;
  office: OfficeContext;
  onSaved(etag: string | undefined): void;
}

function valuesOf({
  name,
  startsOn,
  endsOn,
  declarationsOpenAt,
  declarationsCloseAt,
  retentionDays,
  lookAlikes,
  zeroTwins,
  timeZone,
}: EventView) {
  return {
    name,
    startsOn,
    endsOn,
    opensAt: toWallClock(declarationsOpenAt, timeZone),
    closesAt: toWallClock(declarationsCloseAt, timeZone),
    retentionDays: String(retentionDays),
    lookAlikes: lookAlikes as string,
    zeroTwins: zeroTwins as string,
  };
}

type Values = ReturnType<typeof valuesOf>;

function bodyOf(values: Values, timeZone: string): EventChangesInput {
  return {
    name: values.name,
    startsOn: values.startsOn,
    endsOn: values.endsOn,
    declarationsOpenAt: fromWallClock(values.opensAt, timeZone),
    declarationsCloseAt: fromWallClock(values.closesAt, timeZone),
    retentionDays: Number(values.retentionDays),
    lookAlikes: values.lookAlikes as EventView['lookAlikes'],
    zeroTwins: values.zeroTwins as EventView['zeroTwins'],
  };
}

/**
 * Other days are shown first with what they do to the cars that are signed off, and taken with a reason. When somebody saved
 * meanwhile, what was typed stays and can be saved over it.
 */
export function EventForm({ event, etag, office, onSaved }: EventFormProps) {
  const { timeZone } = event;
  const [tag, setTag] = useState(etag);
  useEffect(() => setTag(etag), [etag]);
  const [newer, setNewer] = useState<{ event: EventView; etag: string | undefined }>();
  const { values, set } = useValues(valuesOf(event));
  const [shown, setShown] = useState<{ body: EventChangesInput; preview: EventPreview }>();
  const params = { eventId: event.eventId };
  const startFrom = (version: string | undefined): void => {
    setTag(version);
    setNewer(undefined);
    setShown(undefined);
  };
  const send = async (): Promise<void> => {
    setShown(undefined);
    const body = bodyOf(values, timeZone);
    const { body: preview } = await call(previewEvent, { params, body }, { token: office.token });
    if (!preview.sameDays && preview.signedOff > 0) setShown({ body, preview });
    else await change(body, preview.signedOff > 0 ? t('event.savedKeeps') : t('event.saved'));
  };
  const change = async (body: EventChangesInput, done: string): Promise<void> => {
    const headers = tag === undefined ? {} : { 'if-match': tag };
    const saved = await call(changeEvent, { params, headers, body }, { token: office.token });
    startFrom(saved.etag);
    say(done);
    onSaved(saved.etag);
    office.reloadEvents();
  };
  const look = (trouble: Trouble | undefined): void => {
    if (trouble?.status !== 412) return;
    void call(getEvent, { params }, { token: office.token }).then(({ body, etag: current }) =>
      setNewer({ event: body, etag: current }),
    );
  };
  return (
    <>
      <Form label={t('event.basics')} submit={t('save')} onSend={send} onTrouble={look}>
        <EventFields
          values={values}
          set={(name) => (value) => {
            set(name)(value);
            setShown(undefined);
          }}
          zone={t('venueTime', { zone: timeZone })}
        />
      </Form>
      {shown !== undefined && (
        <MovedCars
          preview={shown.preview}
          zone={timeZone}
          onCancel={() => setShown(undefined)}
          onTrouble={look}
          onChange={(reason) => change({ ...shown.body, reason, preview: shown.preview.preview }, t('event.saved'))}
        />
      )}
      {newer !== undefined && <Newer event={newer.event} onKeep={() => startFrom(newer.etag)} />}
    </>
  );
}

interface EventFieldsProps {
  values: Values;
  set(name: keyof Values): (value: string) => void;
  zone: string;
}

function EventFields({ values, set, zone }: EventFieldsProps) {
  return (
    <div class="fields">
      <Input label={t('event.name')} pointer="/name" value={values.name} onValue={set('name')} />
      <Input
        type="date"
        label={t('event.startsOn')}
        pointer="/startsOn"
        value={values.startsOn}
        onValue={set('startsOn')}
      />
      <Input type="date" label={t('event.endsOn')} pointer="/endsOn" value={values.endsOn} onValue={set('endsOn')} />
      <Input
        type="datetime-local"
        label={t('event.opensAt')}
        hint={zone}
        pointer="/declarationsOpenAt"
        value={values.opensAt}
        onValue={set('opensAt')}
      />
      <Input
        type="datetime-local"
        label={t('event.closesAt')}
        hint={zone}
        pointer="/declarationsCloseAt"
        value={values.closesAt}
        onValue={set('closesAt')}
      />
      <Input
        label={t('event.retention')}
        hint={t('event.retentionHint')}
        inputMode="numeric"
        pointer="/retentionDays"
        value={values.retentionDays}
        onValue={set('retentionDays')}
      />
      <Select
        label={t('event.lookAlikes')}
        pointer="/lookAlikes"
        value={values.lookAlikes}
        onValue={set('lookAlikes')}
        options={(['warn', 'refuse'] as const).map((one) => [one, t(`event.lookAlikes.${one}`)] as const)}
      />
      <Select
        label={t('event.zeroTwins')}
        pointer="/zeroTwins"
        value={values.zeroTwins}
        onValue={set('zeroTwins')}
        options={(['refuse', 'allow'] as const).map((one) => [one, t(`event.zeroTwins.${one}`)] as const)}
      />
    </div>
  );
}

/** What was saved meanwhile; the own text is still in the fields. */
function Newer({ event: { name, startsOn, endsOn }, onKeep }: { event: EventView; onKeep(): void }) {
  return (
    <div class="notice look stack" role="alert">
      <p>{t('conflict.title')}</p>
      <p>
        {name}, {startsOn} – {endsOn}
      </p>
      <div class="row">
        <button type="button" onClick={onKeep}>
          {t('conflict.keep')}
        </button>
      </div>
    </div>
  );
}

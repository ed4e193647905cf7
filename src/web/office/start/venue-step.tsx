import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  createVenue,
  deleteVenue,
  getVenue,
  listVenues,
  replaceVenue,
  type VenueInput,
  type VenueView,
} from '../../api/operations.ts';
import { say, useLoad, useValues } from '../parts/office-context.ts';
import { Form, Input } from '../parts/form.tsx';
import { go } from '../parts/link.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import type { StepProps } from './start.tsx';
import { startText } from './text.ts';
import { LapSketch, type ZoneRow, ZoneRows } from './lap-sketch.tsx';

const { t } = startText;

/** The circuit: name and zone, and what of it the rules can work with. */
export function VenueStep({ token, event, onSaved }: StepProps) {
  const load = useLoad(`venues ${event?.venueId}`, async (signal) => {
    if (event === undefined) return { venues: (await call(listVenues, {}, { token, signal })).body.venues };
    const { body, etag } = await call(getVenue, { params: { venueId: event.venueId } }, { token, signal });
    return { venues: [body], etag };
  });
  return (
    <Panel title={t('venue.title')}>
      <p>{t('venue.why')}</p>
      <Loaded of={load}>
        {({ venues, etag }) => (
          <Venues
            {...{ token, venues, onSaved: () => (load.reload(), onSaved()) }}
            editing={event === undefined ? undefined : { venue: venues[0], etag }}
          />
        )}
      </Loaded>
    </Panel>
  );
}

interface VenuesProps {
  token: string;
  venues: readonly VenueView[];
  editing: { venue: VenueView | undefined; etag?: string | undefined } | undefined;
  onSaved(): void;
}

function Venues({ token, venues, editing, onSaved }: VenuesProps) {
  const [adding, setAdding] = useState(venues.length === 0);
  if (editing?.venue !== undefined) {
    return <VenueForm key={editing.etag} {...{ token, onSaved }} venue={editing.venue} etag={editing.etag} />;
  }
  return (
    <>
      {venues.length > 0 && (
        <ul class="plain">
          {venues.map((venue) => (
            <li key={venue.venueId} class="row">
              <span>
                {venue.name}, <span class="soft">{venue.timeZone}</span>
              </span>
              <Discard {...{ token, venue, onSaved }} />
            </li>
          ))}
        </ul>
      )}
      {!adding && (
        <div class="row">
          <button type="button" class="primary" onClick={() => go({ section: 'start', step: 'event' })}>
            {t('venue.use')}
          </button>
          <button type="button" onClick={() => setAdding(true)}>
            {t('venue.add')}
          </button>
        </div>
      )}
      {adding && <VenueForm {...{ token, onSaved }} />}
    </>
  );
}

/** Takes a venue away that was made by mistake; the server says when an event is there. */
function Discard({ token, venue, onSaved }: { token: string; venue: VenueView; onSaved(): void }) {
  const [asking, setAsking] = useState(false);
  const { venueId, name } = venue;
  if (!asking) {
    return (
      <button type="button" onClick={() => setAsking(true)} aria-label={t('venue.deleteNamed', { name })}>
        {t('delete')}
      </button>
    );
  }
  return (
    <Form
      label={t('venue.deleteNamed', { name })}
      submit={t('delete')}
      tone="bad"
      onCancel={() => setAsking(false)}
      onSend={async () => {
        await call(deleteVenue, { params: { venueId } }, { token });
        say(t('venue.deleted', { name }));
        onSaved();
      }}
    >
      <p>{t('venue.deleteAsk', { name })}</p>
    </Form>
  );
}

const FIRST = { name: '', timeZone: '', lapLengthM: '', topSpeedKmh: '', levelDb: '', distanceM: '', air: '' };

const textOf = (value: number | undefined): string => (value === undefined ? '' : String(value));

function valuesOf(venue: VenueView | undefined): typeof FIRST {
  if (venue === undefined) return { ...FIRST, timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone };
  return {
    name: venue.name,
    timeZone: venue.timeZone,
    lapLengthM: textOf(venue.lapLengthM),
    topSpeedKmh: textOf(venue.topSpeedKmh),
    levelDb: textOf(venue.soundLimit?.levelDb),
    distanceM: textOf(venue.soundLimit?.distanceM),
    air: textOf(venue.designAirTemperatureC),
  };
}

/** A number as it is typed in either language; text that is none goes as it is, for the server to refuse. */
const numberIn = (typed: string): number => {
  const read = Number(typed.trim().replace(',', '.'));
  return Number.isNaN(read) ? (typed as unknown as number) : read;
};
const member = (name: string, typed: string): object => (typed.trim() === '' ? {} : { [name]: numberIn(typed) });

function bodyOf(values: typeof FIRST, zones: readonly ZoneRow[]): VenueInput {
  const { levelDb, distanceM } = values;
  return {
    name: values.name,
    timeZone: values.timeZone.trim(),
    ...member('lapLengthM', values.lapLengthM),
    ...member('topSpeedKmh', values.topSpeedKmh),
    ...(levelDb.trim() === '' && distanceM.trim() === ''
      ? {}
      : { soundLimit: { levelDb: numberIn(levelDb), distanceM: numberIn(distanceM) } }),
    ...member('designAirTemperatureC', values.air),
    brakingZones: zones.map(({ name, from, to }) => ({
      ...(name.trim() === '' ? {} : { name: name.trim() }),
      fromKmh: numberIn(from),
      toKmh: numberIn(to),
    })),
  };
}

interface VenueFormProps {
  token: string;
  venue?: VenueView;
  etag?: string | undefined;
  onSaved(): void;
}

function VenueForm({ token, venue, etag, onSaved }: VenueFormProps) {
  const { values, set } = useValues(valuesOf(venue));
  const [zones, setZones] = useState<readonly ZoneRow[]>(
    (venue?.brakingZones ?? []).map(({ name = '', fromKmh, toKmh }) => ({
      name,
      from: String(fromKmh),
      to: String(toKmh),
    })),
  );
  const send = async (): Promise<void> => {
    const body = bodyOf(values, zones);
    if (venue === undefined) await call(createVenue, { body }, { token });
    else {
      const headers = etag === undefined ? {} : { 'if-match': etag };
      await call(replaceVenue, { params: { venueId: venue.venueId }, headers, body }, { token });
    }
    say(t('venue.saved', { name: values.name }));
    onSaved();
    if (venue === undefined) go({ section: 'start', step: 'event' });
  };
  return (
    <Form label={t('venue.title')} submit={t('venue.save')} onSend={send}>
      <div class="fields">
        <Input label={t('venue.name')} pointer="/name" value={values.name} onValue={set('name')} />
        <Input
          label={t('venue.zone')}
          hint={t('venue.zoneHint')}
          pointer="/timeZone"
          value={values.timeZone}
          onValue={set('timeZone')}
        />
      </div>
      <details open={venue !== undefined}>
        <summary>{t('venue.more')}</summary>
        <div class="stack">
          <div class="fields">
            {NUMBERS.map(([name, pointer]) => (
              <Input
                key={name}
                label={t(`venue.${name}`)}
                hint={t(`venue.${name}Hint`)}
                pointer={pointer}
                inputMode="decimal"
                value={values[name]}
                onValue={set(name)}
              />
            ))}
          </div>
          <ZoneRows zones={zones} onZones={setZones} />
          <LapSketch zones={zones} topSpeed={values.topSpeedKmh} />
        </div>
      </details>
    </Form>
  );
}

const NUMBERS = [
  ['topSpeedKmh', '/topSpeedKmh'],
  ['lapLengthM', '/lapLengthM'],
  ['levelDb', '/soundLimit/levelDb'],
  ['distanceM', '/soundLimit/distanceM'],
  ['air', '/designAirTemperatureC'],
] as const;

import type { ComponentType } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { call } from '../api/call.ts';
import { type EventView, listEvents } from '../api/operations.ts';
import { Access } from '../shared/access.tsx';
import { Frame } from '../shared/frame.tsx';
import { UnsentStops } from '../shared/holds/unsent-stops.tsx';
import type { Session } from '../shared/session.ts';
import { openStops, type Stops } from '../shared/stops.ts';
import { words } from '../shared/text.ts';
import { Access as AccessSection } from './access/access.tsx';
import { SignIn } from './access/sign-in.tsx';
import { Entries } from './entries/entries.tsx';
import { ImportPart, LearnedPart, LinePart, MailPart, PrintPart, ServicePart } from './fetched-parts.tsx';
import { EventSection } from './event/event-section.tsx';
import { Overview } from './overview/overview.tsx';
import { type OfficeContext, said, useLoad } from './parts/office-context.ts';
import { go, Link, place, type Section } from './parts/link.tsx';
import { Lazy } from './parts/lazy.tsx';
import { Loaded } from './parts/panel.tsx';
import { Rules } from './rules/rule-set-page.tsx';
import type { StartProps } from './start/start.tsx';
import { text } from './text.ts';

const { t } = text;

const ALLOWED: Readonly<Record<string, readonly Section[]>> = {
  organizer: [
    'overview',
    'entries',
    'import',
    'line',
    'print',
    'mail',
    'access',
    'rules',
    'event',
    'learned',
    'start',
    'service',
  ],
  chief: ['overview', 'entries', 'line', 'print', 'access', 'rules', 'learned'],
};

/** The race office: for organizer and chief inspector. */
export function Office() {
  return (
    <Access page="office" title={t('title')} otherWay={<SignIn />}>
      {(session) => <Inside session={session} />}
    </Access>
  );
}

function Inside({ session }: { session: Session }) {
  const events = useLoad('events', () => readEvents(session.token));
  const stops = useStops(session.token);
  const sections = ALLOWED[session.role];
  if (sections === undefined) {
    return (
      <Frame title={t('title')}>
        <p class="notice look">{t('role.none')}</p>
      </Frame>
    );
  }
  return (
    <Frame title={t('title')} aside={<p class="soft">{t('who', { holder: session.holder })}</p>}>
      {stops === undefined ? (
        <p role="status">{words.t('loading')}</p>
      ) : (
        <>
          <UnsentStops stops={stops} advice={t('untold.advice')} />
          <Loaded of={events}>
            {(list) => <AtEvent {...{ list, session, stops, sections }} reload={events.reload} />}
          </Loaded>
        </>
      )}
    </Frame>
  );
}

/** Undefined until what this device keeps was read. */
function useStops(token: string): Stops | undefined {
  const [stops, setStops] = useState<Stops>();
  useEffect(() => {
    const stopping = new AbortController();
    void openStops({ queue: 'office-stops', token }).then((opened) => {
      setStops(opened);
      opened.keepSending(stopping.signal);
    });
    return () => stopping.abort();
  }, [token]);
  return stops;
}

interface AtEventProps {
  list: readonly EventView[];
  session: Session;
  stops: Stops;
  sections: readonly Section[];
  reload(): void;
}

/** Stands in the address in the place of an event while a new one is set up. */
const NEW = 'new';

function AtEvent({ list, session, stops, sections, reload }: AtEventProps) {
  const onEvent = useNewEvent(list, reload);
  const { section, event: named } = place.value;
  const mayStart = sections.includes('start');
  const event = named === NEW && mayStart ? undefined : (list.find((one) => one.eventId === named) ?? nearest(list));
  if (event === undefined) {
    return mayStart ? <Beginning {...{ list, session, onEvent }} /> : <p class="notice look">{t('event.none')}</p>;
  }
  const shown = sections.includes(section) ? section : 'overview';
  const office: OfficeContext = {
    session,
    token: session.token,
    event,
    eventId: event.eventId,
    timeZone: event.timeZone,
    stops,
    reloadEvents: reload,
  };
  return (
    <>
      <Chooser {...{ list, mayStart }} chosen={event.eventId} section={shown} />
      <nav aria-label={t('sections')} class="sections no-print">
        {sections.map((one) => (
          <Link key={one} to={{ section: one, event: event.eventId }} current={one === shown} class="button">
            {t(`section.${one}`)}
          </Link>
        ))}
      </nav>
      <p role="status" class={said.value === '' ? 'unseen' : 'notice good'}>
        {said.value}
      </p>
      <Shown key={event.eventId} section={shown} office={office} onEvent={onEvent} />
    </>
  );
}

/** Goes to an event that was just made, once the list has it. */
function useNewEvent(list: readonly EventView[], reload: () => void): (eventId: string) => void {
  const [made, setMade] = useState<string>();
  useEffect(() => {
    if (made === undefined || !list.some(({ eventId }) => eventId === made)) return;
    setMade(undefined);
    go({ section: 'start', event: made });
  }, [list, made]);
  return (eventId) => {
    setMade(eventId);
    reload();
  };
}

interface ChooserProps {
  list: readonly EventView[];
  /** event that is shown */
  chosen: string;
  section: Section;
  mayStart: boolean;
}

function Chooser({ list, chosen, section, mayStart }: ChooserProps) {
  return (
    <div class="row spread no-print">
      <label class="chooser">
        {t('event')}
        <select value={chosen} onChange={({ currentTarget }) => go({ section, event: currentTarget.value })}>
          {chosen === NEW && <option value={NEW}>{t('event.new')}</option>}
          {list.map(({ eventId, name }) => (
            <option key={eventId} value={eventId}>
              {name}
            </option>
          ))}
        </select>
      </label>
      {mayStart && chosen !== NEW && (
        <Link to={{ section: 'start', event: NEW, step: 'event' }} class="button">
          {t('event.new')}
        </Link>
      )}
    </div>
  );
}

interface BeginningProps {
  list: readonly EventView[];
  session: Session;
  onEvent(eventId: string): void;
}

/** Without an event there is one thing to do. */
function Beginning({ list, session, onEvent }: BeginningProps) {
  return (
    <>
      {list.length > 0 && <Chooser list={list} chosen={NEW} section="overview" mayStart />}
      <p role="status" class={said.value === '' ? 'unseen' : 'notice good'}>
        {said.value}
      </p>
      <h2>{t('section.start')}</h2>
      <StartPart token={session.token} event={undefined} office={undefined} onEvent={onEvent} />
    </>
  );
}

const loadStart = () => import('./start/start.tsx');

function StartPart(props: StartProps) {
  return (
    <Lazy name="start" load={loadStart}>
      {({ Start }) => <Start {...props} />}
    </Lazy>
  );
}

/** What each section shows; setting up needs more than its event. */
const PARTS: Readonly<Record<Exclude<Section, 'start'>, ComponentType<{ office: OfficeContext }>>> = {
  overview: Overview,
  entries: Entries,
  import: ImportPart,
  line: LinePart,
  print: PrintPart,
  mail: MailPart,
  access: AccessSection,
  rules: Rules,
  event: EventSection,
  learned: LearnedPart,
  service: ServicePart,
};

interface ShownProps {
  section: Section;
  office: OfficeContext;
  onEvent(eventId: string): void;
}

function Shown({ section, office, onEvent }: ShownProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  const first = useRef(true);
  useEffect(() => {
    if (!first.current) {
      said.value = '';
      heading.current?.focus();
    }
    first.current = false;
  }, [section]);
  const Part = PARTS[section === 'start' ? 'overview' : section];
  return (
    <>
      <h2 ref={heading} tabIndex={-1}>
        {t(`section.${section}`)}
      </h2>
      {section === 'start' ? (
        <StartPart token={office.token} event={office.event} office={office} onEvent={onEvent} />
      ) : (
        <Part office={office} />
      )}
    </>
  );
}

async function readEvents(token: string): Promise<readonly EventView[]> {
  const events: EventView[] = [];
  let cursor: string | undefined;
  do {
    const { body } = await call(listEvents, { query: cursor === undefined ? {} : { cursor } }, { token });
    events.push(...body.events);
    cursor = body.next;
  } while (cursor !== undefined && events.length < 500);
  return events;
}

/** The event of today, else the next one, else the newest. */
function nearest(list: readonly EventView[]): EventView | undefined {
  const today = new Date().toISOString().slice(0, 10);
  const running = list.find(({ startsOn, endsOn }) => startsOn <= today && today <= endsOn);
  return running ?? list.filter(({ startsOn }) => startsOn > today).at(-1) ?? list[0];
}

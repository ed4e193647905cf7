import { useEffect, useMemo, useState } from 'preact/hooks';
import type { FormView } from './kept/form.ts';
import { leave } from '../shared/access.tsx';
import { Frame } from '../shared/frame.tsx';
import { keepStorage, registerWorker } from '../shared/boot.tsx';
import type { Session } from '../shared/session.ts';
import { openStops } from '../shared/stops.ts';
import { Part } from '../shared/part.tsx';
import { words } from '../shared/text.ts';
import { Conflicts, Taken } from './conflicts.tsx';
import { type Garage as InGarage, GarageContext, typedFrom, useGarage, useView, type View } from './context.ts';
import { type Declaration, makeDeclaration } from './kept/declaration.ts';
import { openLogs } from './kept/logs.ts';
import { Head, StatusBar } from './head.tsx';
import { sendPhotos } from './kept/photos.ts';
import { WaysOn, StopPanel } from './stop-panel.tsx';
import { sendSubmission } from './kept/submit.ts';
import { openKept, pull, startSync } from './kept/sync.ts';
import { text } from './text.ts';
import { Check } from './screens/check.tsx';
import { isAnyPartDone } from './screens/hub.tsx';
import { ScreenPage } from './screens/screen.tsx';
import { Area, Walk } from './walk.tsx';

const { t } = text;

const MAY_TYPE = ['inspector', 'chief', 'organizer'];

/** The entrant's page; with `typed`, the entry for which somebody of the staff types what its entrant says. */
export function Garage({ session, typed }: { session: Session; typed: string | undefined }) {
  const entryId = typed ?? session.entryId;
  const isFine = typed === undefined || MAY_TYPE.includes(session.role);
  if (entryId === undefined || !isFine) {
    return (
      <Frame title={t('title')}>
        <p class="notice bad">{t(isFine ? 'not-an-entrant' : 'typed.wrong-role')}</p>
        <button type="button" onClick={() => leave(typed === undefined ? 'garage' : typedFrom())}>
          {words.t('session.leave')}
        </button>
      </Frame>
    );
  }
  return <Entry key={entryId} session={session} entryId={entryId} />;
}

function Entry({ session, entryId }: { session: Session; entryId: string }) {
  const declaration = useMemo(() => makeDeclaration(session, entryId), [session, entryId]);
  const [view, go] = useView();
  const [garage, setGarage] = useState<InGarage | undefined>(undefined);
  useEffect(() => {
    const submit = async (): Promise<void> => {
      if (await sendSubmission(declaration)) go({ name: 'verdict' });
    };
    const sync = startSync(declaration, [() => sendPhotos(declaration), submit]);
    setGarage({ declaration, sync, go });
    // The worker fetches every part of the page, which must not take the network from the form.
    void openKept(declaration)
      .then(sync.now)
      .then(() => registerWorker('garage'));
    const stopping = new AbortController();
    // At the line cars are held on the page of the line.
    if (!declaration.isTyped) void stopFrom(declaration, stopping.signal);
    if (!declaration.isTyped) logFrom(declaration, stopping.signal);
    void keepStorage();
    return () => {
      stopping.abort();
      sync.stop();
    };
  }, [declaration, go, session, entryId]);
  const unsentLogs = declaration.logs.value?.waiting.value.length ?? 0;
  const unsentStops = (declaration.stops.value?.waiting.value.length ?? 0) + unsentLogs;
  useEffect(() => {
    // What was kept on this device is with the server now, and the gate says something else.
    if (unsentStops === 0 && declaration.form.value !== undefined) void pull(declaration).catch(() => undefined);
  }, [declaration, unsentStops]);
  if (garage === undefined) return null;
  return (
    <GarageContext.Provider value={garage}>
      <Shown view={view} />
    </GarageContext.Provider>
  );
}

/** What stops the entrant's own car from this device. */
async function stopFrom(declaration: Declaration, until: AbortSignal): Promise<void> {
  const stops = await openStops({ queue: `garage-stops ${declaration.entryId}`, token: declaration.session.token });
  declaration.stops.value = stops;
  stops.keepSending(until);
}

/** What is written down after sessions on this device. */
function logFrom(declaration: Declaration, until: AbortSignal): void {
  const logs = openLogs(declaration);
  declaration.logs.value = logs;
  logs.keepSending(until);
}

function Shown({ view }: { view: View }) {
  const { declaration } = useGarage();
  const form = declaration.form.value;
  if (form === undefined) {
    const { kind } = declaration.sync.value;
    const why = declaration.sync.value.kind === 'failed' ? declaration.sync.value.why : undefined;
    return (
      <Frame title={t('title')}>
        <p role="status">
          {kind === 'offline' ? t('no-form') : kind === 'ended' ? t('sync.ended') : words.t('loading')}
        </p>
        {why !== undefined && (
          <p class="notice bad" role="alert">
            {words.t('problem.unexpected', { detail: why })}
          </p>
        )}
      </Frame>
    );
  }
  return <Page view={view} form={form} />;
}

/** Something was said of this car that others go by. */
const isAtTrack = ({ inspection, entry, stops, logs }: Declaration): boolean =>
  inspection.value !== undefined ||
  (entry.value?.holds.length ?? 0) > 0 ||
  (stops.value?.waiting.value.length ?? 0) + (logs.value?.waiting.value.length ?? 0) > 0;

const BRIEF = ['session', 'countdown', 'workshop'] as const;

function AtTrack({ form, isScreen, isSlim }: { form: FormView; isScreen: boolean; isSlim: boolean }) {
  return (
    <>
      {!isScreen && <StopPanel form={form} />}
      {!isSlim && <WaysOn />}
    </>
  );
}

/** What stands above every view; on a screen of one subject nothing does but the subject. */
function Page({ view, form }: { view: View; form: FormView }) {
  const { declaration } = useGarage();
  const isScreen = view.name === 'screen' || view.name === 'check';
  const isBrief = BRIEF.some((name) => name === view.name);
  const isSlim = isScreen || isBrief;
  // Who has not declared yet came to declare; what is for the days at the track stands below that.
  const isBegun = view.name !== 'walk' || isAtTrack(declaration);
  return (
    <Frame title={isSlim ? `${t('title')} · ${form.carNumber}` : t('title')} isSlim={isSlim}>
      {(!isSlim || declaration.isTyped) && <Head form={form} view={view} />}
      <StatusBar
        isBrief={view.name === 'verdict' || isBrief}
        isSilent={isScreen || !isAnyPartDone(declaration, form)}
      />
      {declaration.sync.value.kind === 'ended' && (
        <div class="notice bad stack" role="alert">
          <p>{t('ended')}</p>
        </div>
      )}
      {isBegun && <AtTrack form={form} isScreen={isScreen} isSlim={isSlim} />}
      <Conflicts />
      <Taken />
      <Content view={view} />
      {!isBegun && <AtTrack form={form} isScreen={false} isSlim={false} />}
    </Frame>
  );
}

const loadSession = () => import('./session/session.tsx');
const loadCountdown = () => import('./countdown/countdown.tsx');
const loadWorkshop = () => import('./workshop/workshop.tsx');
const loadVerdict = () => import('./verdict/verdict.tsx');

function Content({ view }: { view: View }) {
  const { declaration } = useGarage();
  const form = declaration.form.value;
  const inspection = declaration.inspection.value;
  if (form === undefined) return null;
  if (view.name === 'verdict' && inspection !== undefined) {
    return (
      <Part load={loadVerdict} heading="verdict">
        {({ Verdict }) => <Verdict form={form} inspection={inspection} />}
      </Part>
    );
  }
  if (view.name === 'area' && form.areas.some(({ area }) => area === view.area)) {
    return <Area key={view.area} form={form} area={view.area} />;
  }
  if (view.name === 'screen') return <ScreenPage key={view.screen} form={form} id={view.screen} />;
  if (view.name === 'check') return <Check form={form} />;
  if (view.name === 'countdown') {
    return (
      <Part load={loadCountdown} heading="countdown">
        {({ CountdownPage }) => <CountdownPage />}
      </Part>
    );
  }
  if (view.name === 'workshop') {
    return (
      <Part load={loadWorkshop} heading="workshop">
        {({ WorkshopPage }) => <WorkshopPage form={form} />}
      </Part>
    );
  }
  if (view.name === 'session') {
    return (
      <Part load={loadSession} heading="session">
        {({ SessionPage }) => <SessionPage form={form} />}
      </Part>
    );
  }
  return <Walk form={form} />;
}

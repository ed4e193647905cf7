import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type CountdownView, getCountdown } from '../../api/operations.ts';
import { currentLanguage, defineText, type Language } from '../../shared/text.ts';
import { showQuantity } from '../../shared/units.ts';
import { useGarage } from '../context.ts';
import type { Declaration } from '../kept/declaration.ts';
import { text as page } from '../text.ts';
import { durationText } from '../verdict/fix-steps.tsx';
import { cornerName, dateText, inChosen, timeText } from '../verdict/say.ts';
import { text as after } from '../verdict/text.ts';

/** Texts of what is to be done until the event and after it, fetched when somebody goes there. */
const own = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = own;

/** Parts and steps are named as after a submission. */
export const text = {
  load: async (language: Language): Promise<void> => {
    await Promise.all([own.load(language), after.load(language)]);
  },
};

/** What is to be done until the event, between its sessions and after it; what to pack; what the line looks at; the dates. */
export function CountdownPage() {
  const { declaration, go } = useGarage();
  const { kept, failed } = useCountdown(declaration);
  return (
    <section class="stack" aria-labelledby="countdown">
      <div class="row no-print">
        <button type="button" class="quiet" onClick={() => go({ name: 'walk' })}>
          {page.t('screen.back')}
        </button>
      </div>
      <h2 id="countdown" tabIndex={-1}>
        {t('title')}
      </h2>
      <p role="status">
        {kept === undefined && t(failed ? 'failed' : 'reading')}
        {kept !== undefined && failed && t('kept', { at: timeText(kept.at, kept.view.event.timeZone) })}
      </p>
      {kept !== undefined && <Whole view={kept.view} />}
    </section>
  );
}

type StageView = CountdownView['stages'][number];

/** What is open as long as the car is as it is, also when its days are over. */
const LASTING: readonly string[] = ['order', 'order-for-wear', 'ends', 'answer', 'fix', 'bed-in'];

const stillOpen = (stage: StageView): StageView =>
  stage.when === 'past' ? { ...stage, tasks: stage.tasks.filter(({ kind }) => LASTING.includes(kind)) } : stage;

function Whole({ view }: { view: CountdownView }) {
  const { stages, pack, looks, dates, event } = view;
  const shown = stages.map(stillOpen).filter(({ tasks }) => tasks.length > 0);
  return (
    <>
      {shown.map((stage) => (
        <Stage key={stage.stage} stage={stage} timeZone={event.timeZone} />
      ))}
      <section class="panel stack" aria-labelledby="pack">
        <h3 id="pack">{t('pack')}</h3>
        <ul class="plain ticks">
          {pack.map((one) => (
            <li key={`${one.what} ${one.axle ?? ''}`}>
              <label class="option">
                <input type="checkbox" />
                <span>{packedText(one)}</span>
              </label>
            </li>
          ))}
        </ul>
      </section>
      {looks.length > 0 && (
        <details class="panel">
          <summary>{t('looks')}</summary>
          <ul>
            {looks.map((one) => (
              <li key={one}>{one}</li>
            ))}
          </ul>
        </details>
      )}
      <section class="panel stack" aria-labelledby="when">
        <h3 id="when">{t('dates')}</h3>
        <ul>
          {dates.map(({ what, name, at }) => (
            <li key={`${what} ${name ?? ''} ${at}`}>
              {t(what === 'line' && name !== undefined ? 'date.line.lane' : `date.${what}`, {
                name: name ?? '',
                at: timeText(at, event.timeZone),
              })}
            </li>
          ))}
        </ul>
      </section>
      <p class="soft">{t('common-practice')}</p>
    </>
  );
}

function Stage({ stage, timeZone }: { stage: StageView; timeZone: string }) {
  const { stage: name, from, to, when, tasks } = stage;
  const days = name === 'after' ? '' : from === to ? dateText(from) : `${dateText(from)} – ${dateText(to)}`;
  const id = `stage-${name}`;
  return (
    <section class={`panel stack ${when === 'now' ? 'stage-now' : ''}`} aria-labelledby={id}>
      <h3 id={id}>
        {t(`stage.${name}`)}
        {when === 'now' && ` · ${t('now')}`}
        {when === 'past' && ` · ${t('past')}`}
      </h3>
      {days !== '' && <p class="soft">{days}</p>}
      <ul>
        {tasks.map((task, index) => (
          <li key={`${task.kind} ${index}`} class={task.isLate === true ? 'late' : ''}>
            {taskText(task, timeZone)}
          </li>
        ))}
      </ul>
    </section>
  );
}

const nameOf = (entryId: string): string => `gridworthy.countdown ${entryId} ${currentLanguage()}`;

interface Kept {
  /** when the server said it, an instant */
  at: string;
  view: CountdownView;
}

function read(entryId: string): Kept | undefined {
  try {
    return (JSON.parse(localStorage.getItem(nameOf(entryId)) ?? 'null') as Kept | null) ?? undefined;
  } catch {
    // Not ours, or storage is closed: it is there once the server says it.
    return undefined;
  }
}

/** The countdown as the server says it, and as it said it last while there is no network. */
function useCountdown({ entryId, session, base }: Declaration): { kept: Kept | undefined; failed: boolean } {
  const [kept, setKept] = useState(() => read(entryId));
  const [failed, setFailed] = useState(false);
  const { rev } = base.value;
  useEffect(() => {
    let isGone = false;
    const get = async (): Promise<void> => {
      const { body } = await call(getCountdown, { params: { entryId } }, { token: session.token });
      const now = { at: new Date().toISOString(), view: body };
      if (!isGone) setKept(now);
      if (!isGone) setFailed(false);
      localStorage.setItem(nameOf(entryId), JSON.stringify(now));
    };
    get().catch(() => {
      if (!isGone) setFailed(true);
    });
    return () => {
      isGone = true;
    };
  }, [entryId, session, rev]);
  return { kept, failed };
}

type Key = Parameters<typeof t>[0];
type AfterKey = Parameters<typeof after.t>[0];

type Task = CountdownView['stages'][number]['tasks'][number];
type Packed = CountdownView['pack'][number];

const listed = (titles: readonly string[] = []): string => [...new Set(titles)].join('; ');
const mm = (value: number): string => inChosen(value, 'mm', { decimals: 1 });

/** The values that the sentences of tasks may name. */
function valuesOf(task: Task, timeZone: string): Record<string, string | number> {
  const { titles, part, opening, axle, wear, minutes, count = 0, value = 0, before = 0, by, at, lane = 0 } = task;
  const step = opening === 'wheels' && axle !== undefined ? `step.wheels.${axle}` : `step.${opening ?? ''}`;
  return {
    titles: listed(titles),
    part: said(part, (one) => after.t(`part.${one}`)),
    step: said(opening, () => after.t(step as AfterKey)),
    axle: said(axle, cornerName),
    wear: said(wear, (one) => t(`wear.${one}`)),
    time: said(minutes, durationText),
    count,
    lane,
    value: mm(value),
    torque: showQuantity(value, 'N·m', currentLanguage()),
    before: mm(before),
    by: said(by, dateText),
    at: said(at, (one) => timeText(one, timeZone)),
  };
}

const said = <T,>(value: T | undefined, say: (value: T) => string): string => (value === undefined ? '' : say(value));

/** Which of the sentences of its kind a task is said with. */
function formOf({ kind, titles = [], at, count, lane, isLate, isTold }: Task): string {
  if (isLate === true) return '.late';
  if (isTold === true) return lane === undefined ? '.told' : '.told.lane';
  if (kind === 'condition' && at === undefined) return '.open';
  // wheels are tightened, and brakes bled, because of the other steps: nothing of its own is wrong there
  if (kind === 'fix' && titles.length === 0) return '.bare';
  return (kind === 'order-for-wear' || kind === 'watch-wear') && count === 0 ? '.none' : '';
}

/** A task as one sentence for the person who does it. */
const taskText = (task: Task, timeZone: string): string =>
  t(`task.${task.kind}${formOf(task)}` as Key, valuesOf(task, timeZone));

/** What goes along, with its reason. */
function packedText({ what, titles, axle, value }: Packed): string {
  const name = t(`pack.${what}`);
  if (value !== undefined) return t('pack.at', { name, value: showQuantity(value, 'N·m', currentLanguage()) });
  if (axle !== undefined) return t('pack.for-axle', { name, axle: cornerName(axle) });
  return titles === undefined ? name : t('pack.because', { name, titles: listed(titles) });
}

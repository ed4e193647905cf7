import { useEffect, useRef } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EventView, getSetUp, type SetUpView, skipSetUpStep } from '../../api/operations.ts';
import { type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Link, place } from '../parts/link.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { EntriesStep, LinksStep, PeopleStep, RulesStep } from './people-step.tsx';
import { EventStep } from './event-step.tsx';
import { GroupsStep } from './groups-step.tsx';
import { startText } from './text.ts';
import { VenueStep } from './venue-step.tsx';

const { t } = startText;
export { startText as text };

type StepView = SetUpView['steps'][number];
export type StepName = StepView['step'];

/** What every step works with; `office` and `event` are undefined until there is an event. */
export interface StepProps {
  token: string;
  event: EventView | undefined;
  office: OfficeContext | undefined;
  /** something was saved: reads the steps anew */
  onSaved(): void;
  /** there is a new event */
  onEvent(eventId: string): void;
}

export interface StartProps {
  token: string;
  event: EventView | undefined;
  office: OfficeContext | undefined;
  /** there is a new event: goes there */
  onEvent(eventId: string): void;
}

const SKIPPABLE: readonly StepName[] = ['venue', 'people', 'entries', 'links'];
const isSkippable = (step: StepName): step is 'venue' | 'people' | 'entries' | 'links' => SKIPPABLE.includes(step);

/** From nothing to entrants who declare: one list of steps that the server keeps, and the open one below it. */
export function Start({ token, event, office, onEvent }: StartProps) {
  const eventId = event?.eventId;
  const load = useLoad(`set-up ${eventId}`, async (signal) => {
    const query = eventId === undefined ? {} : { eventId };
    return (await call(getSetUp, { query }, { token, signal })).body;
  });
  const first = useRef<StepName | undefined>(undefined);
  return (
    <Loaded of={load}>
      {(setUp) => {
        // What is open stays open when it is done: its result may stand there once only.
        first.current ??= setUp.next ?? 'links';
        const chosen = setUp.steps.find(({ step }) => step === place.value.step)?.step ?? first.current;
        const step = event === undefined && chosen !== 'venue' && chosen !== 'rules' ? 'event' : chosen;
        const skip = async (skipped: boolean): Promise<void> => {
          if (eventId === undefined || !isSkippable(step)) return;
          await call(skipSetUpStep, { params: { eventId, step }, body: { skipped } }, { token });
          load.reload();
        };
        return (
          <>
            <TaskList setUp={setUp} current={step} event={event} />
            <Opened
              key={`${eventId} ${step}`}
              view={setUp.steps.find((one) => one.step === step)}
              next={followerOf(setUp, step)}
              onSkip={isSkippable(step) && eventId !== undefined ? skip : undefined}
              {...{ token, event, office, onEvent }}
              onSaved={load.reload}
            />
          </>
        );
      }}
    </Loaded>
  );
}

/** The next step that is open, after this one first. */
function followerOf({ steps }: SetUpView, step: StepName): StepName | undefined {
  const at = steps.findIndex((one) => one.step === step);
  return [...steps.slice(at + 1), ...steps.slice(0, at)].find(({ state }) => state === 'open')?.step;
}

const SIGNS = { done: '✔', open: '○', skipped: '–' } as const;

interface TaskListProps {
  setUp: SetUpView;
  current: StepName;
  event: EventView | undefined;
}

function TaskList({ setUp, current, event }: TaskListProps) {
  const { steps, entrantsCanStart } = setUp;
  return (
    <Panel title={event === undefined ? t('list.new') : t('list.of', { event: event.name })}>
      <p class={`notice ${entrantsCanStart ? 'good' : 'look'}`} data-ready={entrantsCanStart}>
        {t(entrantsCanStart ? 'list.ready' : 'list.notReady')}
      </p>
      <ol class="plain tasks">
        {steps.map(({ step, state, missing, count }) => (
          <li key={step} data-step={step} data-state={state}>
            <Link to={{ section: 'start', step }} current={step === current} class="task">
              <span class="sign" aria-hidden="true">
                {SIGNS[state]}
              </span>
              <span>
                <strong>{t(`step.${step}`)}</strong> <span class="soft">{t(`count.${step}`, { count })}</span>
              </span>
              <span>{t(`state.${state}`)}</span>
            </Link>
            {missing.length > 0 && (
              <ul class="missing">
                {missing.map(({ code, before, count: many }) => (
                  <li key={code} data-missing={code}>
                    {t(`missing.${code}`, { count: many ?? 0 })} <span class="soft">{t(`before.${before}`)}</span>
                  </li>
                ))}
              </ul>
            )}
          </li>
        ))}
      </ol>
    </Panel>
  );
}

type OpenedProps = StepProps & {
  view: StepView | undefined;
  next: StepName | undefined;
  onSkip: ((skipped: boolean) => Promise<void>) | undefined;
};

function Opened({ view, next, onSkip, ...props }: OpenedProps) {
  const top = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (place.value.step !== undefined) top.current?.focus();
  }, []);
  if (view === undefined) return null;
  return (
    <div ref={top} tabIndex={-1} class="stack" role="group" aria-label={t(`step.${view.step}`)} data-open={view.step}>
      <Body step={view.step} {...props} />
      <div class="row">
        {next !== undefined && (
          <Link to={{ section: 'start', step: next }} class="button">
            {t('next', { step: t(`step.${next}`) })}
          </Link>
        )}
        {next === undefined && props.event !== undefined && (
          <Link to={{ section: 'overview' }} class="button">
            {t('finished')}
          </Link>
        )}
        {onSkip !== undefined && view.state === 'open' && (
          <button type="button" onClick={() => void onSkip(true)}>
            {t('skip')}
          </button>
        )}
        {onSkip !== undefined && view.state === 'skipped' && (
          <button type="button" onClick={() => void onSkip(false)}>
            {t('unskip')}
          </button>
        )}
      </div>
    </div>
  );
}

function Body({ step, ...props }: StepProps & { step: StepName }) {
  const { office } = props;
  if (step === 'venue') return <VenueStep {...props} />;
  if (step === 'event') return <EventStep {...props} />;
  if (step === 'rules') return <RulesStep {...props} />;
  if (office === undefined) return null;
  const own = { office, onSaved: props.onSaved };
  if (step === 'groups') return <GroupsStep {...own} />;
  if (step === 'people') return <PeopleStep {...own} />;
  return step === 'entries' ? <EntriesStep {...own} /> : <LinksStep {...own} />;
}

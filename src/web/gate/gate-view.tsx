import { useEffect, useMemo, useState } from 'preact/hooks';
import { leave } from '../shared/access.tsx';
import { Choices } from '../shared/frame.tsx';
import { updateWaits, version } from '../shared/boot.tsx';
import { clockTime } from '../shared/times.ts';
import { words } from '../shared/text.ts';
import { AnswerView } from './answer/answer-view.tsx';
import { useQuestion } from './answer/ask.ts';
import type { Gate } from './gate.ts';
import type { GateList } from './kept/gate-list.ts';
import { RescueList, Twins } from './answer/answer-details.tsx';
import { keepFocus, lettersIn, NumberBox, Pad, type PadProps, typed, useKeys } from './pad.tsx';
import { text } from './text.ts';

const MINUTE_MS = 60_000;
const OLD_MINUTES = 15;

/** What must always be seen: contact, age of the list, the newest hold, what is not sent, and what was refused. */
function Strip({ gate }: { gate: Gate }) {
  useEverySecond();
  const { contact, list, fault, unsent, stops, event } = gate;
  const jumped = gate.jumped();
  const unsentStops = stops.value.filter(({ refused }) => refused === undefined);
  return (
    <div class="strip">
      <p class="event">{event.name}</p>
      <ul class="facts" aria-label={t('strip')}>
        <li
          class={`fact ${contact.value === 'online' ? '' : 'marked'}`}
          data-fact="contact"
          data-contact={contact.value}
        >
          {t(`contact.${contact.value}`)}
        </li>
        <Age list={list.value} timeZone={event.timeZone} now={gate.now()} />
        <li class="fact" data-fact="holds">
          {holdsText(list.value?.snapshot.newestHold?.number)}
        </li>
        {unsent.value > 0 && (
          <li class="fact" data-fact="unsent">
            {t('unsent', { count: unsent.value })}
          </li>
        )}
        {unsentStops.length > 0 && (
          <li class="fact marked" data-fact="untold">
            {t('stop.waiting', { numbers: unsentStops.map(({ carNumber }) => carNumber).join(', ') })}
          </li>
        )}
      </ul>
      {fault.value !== undefined && (
        <p class="warning" role="alert" data-fault={fault.value}>
          {t(`fault.${fault.value}`)} {list.value !== undefined && t('fault.kept')}
        </p>
      )}
      {stops.value
        .filter(({ refused }) => refused !== undefined)
        .map(({ key, carNumber, refused = '' }) => (
          <div key={key} class="warning" role="alert" data-fault="stop-refused">
            <p>{t('stop.refused', { number: carNumber, why: refused })}</p>
            <button type="button" onMouseDown={keepFocus} onClick={() => void gate.forgetStop(key)}>
              {t('stop.read')}
            </button>
          </div>
        ))}
      {jumped && (
        <p class="warning" role="alert" data-fault="clock">
          {t('fault.clock')}
        </p>
      )}
      {contact.value === 'no-access' && (
        <p class="warning" role="alert" data-fault="no-access">
          {t('fault.no-access')}
        </p>
      )}
    </div>
  );
}

function holdsText(newest: number | undefined): string {
  return newest === undefined ? t('holds.none') : t('holds.up-to', { number: newest });
}

interface AgeProps {
  list: GateList | undefined;
  timeZone: string;
  /** given, and not read here: a component whose properties stay the same is not drawn again */
  now: Date;
}

function Age({ list, timeZone, now }: AgeProps) {
  if (list === undefined) {
    return (
      <li class="fact marked" data-fact="age">
        {t('age.none')}
      </li>
    );
  }
  const { snapshot, confirmedAt } = list;
  const minutes = Math.max(0, Math.floor((now.getTime() - confirmedAt) / MINUTE_MS));
  const stale = now.getTime() >= Date.parse(snapshot.staleAfter);
  const old = stale || minutes >= OLD_MINUTES;
  return (
    <li class={`fact ${old ? 'marked' : ''}`} data-fact="age" data-old={old}>
      {t('age', { time: clockTime(new Date(confirmedAt), timeZone, now), age: ageText(minutes) })}
      {stale && ` ${t('age.stale')}`}
    </li>
  );
}

function ageText(minutes: number): string {
  if (minutes < 1) return t('age.now');
  if (minutes < 120) return t('age.minutes', { minutes });
  return t('age.hours', { hours: Math.floor(minutes / 60) });
}

function useEverySecond(): void {
  const [, tick] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => tick((count) => count + 1), 1000);
    return () => clearInterval(timer);
  }, []);
}

const { t } = text;

/** The gate at work: a number is typed and asked for; the answer stays until the next one is typed. */
export function GateView({ gate, otherEvent }: { gate: Gate; otherEvent(): void }) {
  const question = useQuestion(gate);
  const { setNumber, asking, answer, twins, clear } = question;
  const snapshot = gate.list.value?.snapshot;
  const letters = useMemo(() => lettersIn(snapshot?.entries.map((entry) => entry.carNumber) ?? []), [snapshot]);
  const [rescue, setRescue] = useState(false);
  useEffect(() => gate.run(), [gate]);

  const type = (character: string) => {
    setRescue(false);
    const begins = answer !== undefined || asking || twins.length > 0;
    if (begins) clear();
    setNumber((before) => typed(begins ? '' : before, character, letters));
  };
  const typing = answer === undefined && twins.length === 0;
  const remove = () => (typing ? setNumber((before) => before.slice(0, -1)) : clear());
  const confirm = () => (typing ? question.ask(question.number) : clear());
  useKeys({ type, remove, confirm, clear });

  return (
    <div class="gate">
      <div class={`screen ${answer === undefined || rescue ? '' : 'answered'}`}>
        <header>
          <h1 class="unseen">{t('title')}</h1>
          <Strip gate={gate} />
        </header>
        <main id="content">
          {rescue ? (
            <RescueList
              list={gate.list.value}
              timeZone={gate.event.timeZone}
              now={gate.now()}
              back={() => setRescue(false)}
            />
          ) : (
            <Question gate={gate} question={question} letters={letters} type={type} remove={remove} />
          )}
        </main>
      </div>
      <Foot
        event={gate.event.name}
        ended={gate.contact.value === 'no-access'}
        openRescue={() => {
          setRescue(true);
          scrollTo(0, 0);
        }}
        otherEvent={otherEvent}
      />
    </div>
  );
}

interface QuestionProps extends Pick<PadProps, 'letters' | 'type' | 'remove'> {
  gate: Gate;
  question: ReturnType<typeof useQuestion>;
}

/** One of three: the cars to choose among, the number that is typed, the answer. */
function Question({ gate, question, letters, type, remove }: QuestionProps) {
  const { number, asking, answer, twins, ask, stop, clear } = question;
  if (twins.length > 0) return <Twins cars={twins} choose={(carNumber) => ask(carNumber, undefined, true)} />;
  if (answer === undefined)
    return (
      <div class="entry">
        <NumberBox number={number} asking={asking} />
        <Pad letters={letters} type={type} remove={remove} ask={() => ask(number)} empty={number === ''} />
      </div>
    );
  return (
    <AnswerView
      answer={answer}
      timeZone={gate.event.timeZone}
      isSent={gate.stops.value.every(({ key }) => key !== answer.stop?.key)}
      ask={(carNumber, runGroupId) => ask(carNumber, runGroupId, carNumber === answer.carNumber)}
      stop={stop}
      next={clear}
    />
  );
}

interface FootProps {
  event: string;
  /** the server takes this device's token no more */
  ended: boolean;
  openRescue(): void;
  otherEvent(): void;
}

/** Below the screen that works: caution, language and display, other event, version. */
function Foot({ event, ended, openRescue, otherEvent }: FootProps) {
  return (
    <footer class="foot stack">
      <button type="button" class="glove" onClick={openRescue}>
        {t('rescue.open')}
      </button>
      <p class="notice look">{words.t('caution')}</p>
      <p>{event}</p>
      <div class="row spread">
        <Choices />
        <button type="button" class="glove" onClick={otherEvent}>
          {t('event.other')}
        </button>
      </div>
      {ended && (
        <button type="button" class="glove" onClick={() => leave('gate')}>
          {words.t('session.leave')}
        </button>
      )}
      <p data-version={version()}>{t('version', { version: version() ?? '–' })}</p>
      {updateWaits.value && <p>{t('version.waits')}</p>}
    </footer>
  );
}

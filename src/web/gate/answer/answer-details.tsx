import { useEffect, useRef } from 'preact/hooks';
import { hazardsOf, type Rescue, rescueKind } from '../../../domain/car/rescue.ts';
import { clockTime, reasonText } from '../../shared/times.ts';
import type { GateList } from '../kept/gate-list.ts';
import { text } from '../text.ts';
import type { LookAlike, NumberedCar } from '../../../domain/look-alikes.ts';
import { currentLanguage } from '../../shared/text.ts';
import { lastSafeText } from '../../shared/last-safe.ts';
import { type Answer, type AnswerEntry, type Kind, kindOf } from './answer.ts';

const { t } = text;

/** What rescuers must know of a car that is not as a petrol car; nothing for others. */
function RescueLine({ rescue }: { rescue: Rescue | undefined }) {
  if (rescue === undefined || rescueKind(rescue) !== 'special') return null;
  const { volts, disconnectAt } = rescue;
  const parts = [...hazardsOf(rescue).map((one) => t(`rescue.${one}`)), ...(volts === undefined ? [] : [`${volts} V`])];
  return (
    <p class="rescue">
      <strong>{parts.join(', ')}</strong>{' '}
      {disconnectAt === undefined ? t('rescue.no-place') : t('rescue.place', { place: disconnectAt })}
    </p>
  );
}

interface RescueListProps {
  list: GateList | undefined;
  timeZone: string;
  now: Date;
  back(): void;
}

/** Every car of the list that rescuers must treat otherwise, and those of which nobody said. Old lists are shown with their time. */
export function RescueList({ list, timeZone, now, back }: RescueListProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus({ preventScroll: true }), []);
  const known = list?.snapshot.entries.some(({ rescue }) => rescue !== undefined) === true ? list : undefined;
  return (
    <section class="rescue-list stack">
      <h2 ref={heading} tabIndex={-1}>
        {t('rescue.title')}
      </h2>
      <p class="notice look">{t('rescue.caution')}</p>
      {known === undefined ? <p class="untold">{t('rescue.no-list')}</p> : <Cars list={known} />}
      {known !== undefined && <p>{t('rescue.of', { time: clockTime(new Date(known.confirmedAt), timeZone, now) })}</p>}
      <button type="button" class="next" onClick={back}>
        {t('rescue.back')}
      </button>
    </section>
  );
}

function Cars({ list: { snapshot } }: { list: GateList }) {
  // A shared car stands once, with what is said of it in any run group.
  const cars = new Map(snapshot.entries.map((entry) => [`${entry.carNumber} ${entry.vehicle}`, entry]));
  const of = (kind: ReturnType<typeof rescueKind>) =>
    [...cars.values()].filter(({ rescue }) => rescueKind(rescue ?? {}) === kind);
  const special = of('special');
  const untold = of('not-stated').map(({ carNumber }) => carNumber);
  return (
    <>
      {special.length === 0 && <p>{t('rescue.none')}</p>}
      <ul class="rescue-cars">
        {special.map(({ carNumber, group, vehicle, colour, rescue }) => (
          <li key={`${carNumber} ${group}`}>
            <span class="number">{carNumber}</span>{' '}
            <span>
              {[colour, vehicle].filter((part) => part !== undefined).join(', ')}
              <RescueLine rescue={rescue} />
            </span>
          </li>
        ))}
      </ul>
      {untold.length > 0 && <p class="untold">{t('rescue.not-stated', { numbers: untold.join(', ') })}</p>}
    </>
  );
}

/** Cars that this number can be taken for: to compare with what stands there, never a verdict. */
function Also({ cars }: { cars: readonly LookAlike[] }) {
  return (
    <>
      {cars.map((car) => (
        <p key={car.carNumber} class="also">
          {t('also', { car: [car.carNumber, ...described(car)].join(', ') })}
        </p>
      ))}
    </>
  );
}

/**
 * Before an answer: numbers that are the same when spoken. Which of them it is stands on the door, and until somebody
 * read it there is no answer.
 */
export function Twins({ cars, choose }: { cars: readonly NumberedCar[]; choose(carNumber: string): void }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus({ preventScroll: true }), [cars]);
  return (
    <section class="twins">
      <h2 ref={heading} tabIndex={-1}>
        {cars.length === 2 ? t('twins.two') : t('twins.many', { count: cars.length })}
      </h2>
      {cars.map((car) => (
        <button key={car.carNumber} type="button" class="choice twin" onClick={() => choose(car.carNumber)}>
          <span class="number">{car.carNumber}</span> <span>{described(car).join(', ')}</span>
        </button>
      ))}
    </section>
  );
}

const described = ({ vehicle, colour }: NumberedCar): string[] =>
  [vehicle, colour].filter((part) => part !== undefined);

// Of our own drawing, on 100 by 100. Outline and inside differ in each, so that neither colour nor size is needed.
const OUTLINES: Readonly<Record<Kind, string>> = {
  go: 'M50 4a46 46 0 1 1 0 92a46 46 0 1 1 0-92z',
  conditions: 'M50 6L97 92H3z',
  stop: 'M30 3h40l27 27v40l-27 27H30L3 70V30z',
  'not-listed': 'M50 8L92 50L50 92L8 50z',
  'cannot-tell': 'M8 8h84v84H8z',
};
const INSIDES: Readonly<Record<Kind, string>> = {
  go: 'M27 52l16 17l31-37',
  conditions: 'M50 36v26M50 76v2',
  stop: 'M33 33l34 34M67 33L33 67',
  'not-listed': 'M33 50h34',
  'cannot-tell': 'M36 38a14 14 0 1 1 20 13q-6 3-6 12M50 76v2',
};
const HOLLOW: readonly Kind[] = ['not-listed', 'cannot-tell'];

/** The shape that belongs to an answer; said by the word beside it, so hidden from screen readers. */
export function Shape({ kind }: { kind: Kind }) {
  return (
    <svg class={`shape ${HOLLOW.includes(kind) ? 'hollow' : 'full'}`} viewBox="0 0 100 100" aria-hidden="true">
      <path class="outline" d={OUTLINES[kind]} />
      <path class="inside" d={INSIDES[kind]} />
    </svg>
  );
}

interface DetailsProps {
  answer: Answer;
  timeZone: string;
  ask(carNumber: string, runGroupId?: string): void;
}

/** Why, on what conditions, until when; run groups of a shared car; numbers that may have been meant. */
export function AnswerDetails({ answer, timeZone, ask }: DetailsProps) {
  const { entries, kind, carNumber, runGroupId } = answer;
  const only = entries.length === 1 ? entries[0] : undefined;
  return (
    <div class="details">
      {kind !== 'not-listed' && <Also cars={answer.lookAlikes} />}
      {only !== undefined && <Car entry={only} />}
      <RescueLine rescue={entries.find(({ rescue }) => rescueKind(rescue ?? {}) === 'special')?.rescue} />
      <Why answer={answer} />
      {answer.lastKnown !== undefined && <LastKnown known={answer.lastKnown} timeZone={timeZone} />}
      {entries.map(({ runGroupId: group, lastSafe }) =>
        lastSafe === undefined ? null : <p key={group}>{lastSafeText(lastSafe, timeZone)}</p>,
      )}
      {kind === 'conditions' && <Conditions entries={entries} timeZone={timeZone} />}
      {entries.length > 1 && <Groups entries={entries} ask={(group) => ask(carNumber, group)} />}
      <Sentence answer={answer} timeZone={timeZone} />
      {answer.validUntil !== null && <p>{t('valid-until', { time: clockTime(answer.validUntil, timeZone) })}</p>}
      {runGroupId !== undefined && (
        <button type="button" class="choice" onClick={() => ask(carNumber)}>
          {t('group.all')}
        </button>
      )}
      {answer.similar.length > 0 && <Similar numbers={answer.similar} ask={ask} />}
      {kind !== 'cannot-tell' && (
        <p class="source" data-source={answer.source}>
          {t(`source.${answer.source}`)}
        </p>
      )}
    </div>
  );
}

function Why({ answer: { why, status } }: { answer: Answer }) {
  return <p class="why">{why === undefined ? t(`status.${status}`) : t(`why.${why}`)}</p>;
}

function Car({ entry: { runGroup, vehicle, colour } }: { entry: AnswerEntry }) {
  const described = [vehicle, colour].filter((part) => part !== undefined).join(', ');
  return (
    <p class="car">
      {runGroup}
      {described !== '' && `: ${described}`}
    </p>
  );
}

/**
 * The reason in the server's words, in the organizer's language, which today is English. What the status says already is
 * not said twice, and of an unknown number the similar ones are shown instead.
 */
function Sentence({ answer: { reason, status, kind, source }, timeZone }: { answer: Answer; timeZone: string }) {
  if (reason === '' || kind === 'not-listed' || reason === t(`status.${status}`)) return null;
  // What was stopped here was said here.
  const other = currentLanguage() === 'en' || source === 'device' ? {} : { lang: 'en' };
  return (
    <p class="reason" {...other}>
      {reasonText(reason, timeZone)}
    </p>
  );
}

function LastKnown({ known, timeZone }: { known: NonNullable<Answer['lastKnown']>; timeZone: string }) {
  return (
    <p class="last-known">
      {t('last-known', { time: clockTime(known.asOf, timeZone), status: t(`status.${known.status}`) })}
    </p>
  );
}

function Conditions({ entries, timeZone }: { entries: readonly AnswerEntry[]; timeZone: string }) {
  const conditions = entries.flatMap((entry) => entry.conditions);
  return (
    <ul class="conditions-list" aria-label={t('conditions')}>
      {conditions.map(({ text: condition, dueAt }, place) => (
        // Texts may be equal; the list never changes while it is seen.
        <li key={place}>
          {condition}
          {dueAt !== undefined && ` (${t('due', { time: clockTime(dueAt, timeZone) })})`}
        </li>
      ))}
    </ul>
  );
}

function Groups({ entries, ask }: { entries: readonly AnswerEntry[]; ask(runGroupId: string): void }) {
  return (
    <div class="groups" role="group" aria-label={t('groups')}>
      {entries.map((entry) => (
        <button key={entry.runGroupId} type="button" class="choice group" onClick={() => ask(entry.runGroupId)}>
          <Shape kind={kindOf(entry.status)} />
          <span>
            {t('group.only', { group: entry.runGroup })}: {t(`kind.${kindOf(entry.status)}`)}
            {entry.vehicle !== undefined && <span class="small"> {entry.vehicle}</span>}
          </span>
        </button>
      ))}
      <p>{t('groups.all-count')}</p>
    </div>
  );
}

function Similar({ numbers, ask }: { numbers: readonly string[]; ask(carNumber: string): void }) {
  return (
    <div class="similar" role="group" aria-label={t('similar')}>
      <p>{t('similar')}</p>
      <div class="row">
        {numbers.map((number) => (
          <button key={number} type="button" class="choice number" onClick={() => ask(number)}>
            {number}
          </button>
        ))}
      </div>
    </div>
  );
}

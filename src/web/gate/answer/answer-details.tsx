import { rescueKind } from '../../../domain/car/rescue.ts';
import { currentLanguage } from '../../shared/text.ts';
import { type Answer, type AnswerEntry, kindOf } from './answer.ts';
import { Also } from './look-alikes.tsx';
import { Shape } from './shape.tsx';
import { RescueLine } from '../rescue.tsx';
import { text } from '../text.ts';
import { lastSafeText } from '../../shared/last-safe.ts';
import { clockTime, withClockTimes } from '../../shared/times.ts';

const { t } = text;

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
      {withClockTimes(reason, timeZone)}
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

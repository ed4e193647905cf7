import type { CountdownView } from '../../api/operations.ts';
import type { Language } from '../../shared/text.ts';
import { useGarage } from '../context.ts';
import { text as page } from '../text.ts';
import { dateText, timeText } from '../verdict/say.ts';
import { text as after } from '../verdict/text.ts';
import { useCountdown } from './kept.ts';
import { packedText, taskText } from './say-task.ts';
import { own } from './text.ts';

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
              {t(`date.${what}`, { name: name ?? '', at: timeText(at, event.timeZone) })}
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

import type { FormView } from './kept/form.ts';
import { countOf, stuckCells } from './kept/answers-count.ts';
import { countFixes, everyPlace } from './kept/asked.ts';
import { typedFrom, useGarage, type View } from './context.ts';
import type { Declaration } from './kept/declaration.ts';
import { Mark, markOfVerdict } from './item/mark.tsx';
import { cellLabel, dateText, leafText, timeText } from './verdict/say.ts';
import { text } from './text.ts';

const { t } = text;

/** Which car, where, until when; and the last submission. */
export function Head({ form, view }: { form: FormView; view: View }) {
  const { declaration } = useGarage();
  const entry = declaration.entry.value;
  const { opensAt, closesAt } = form.window;
  const { startsOn, endsOn, timeZone, name } = form.event;
  const described: unknown = entry?.vehicle['description'];
  const description = typeof described === 'string' ? described : '';
  const days = startsOn === endsOn ? dateText(startsOn) : `${dateText(startsOn)} – ${dateText(endsOn)}`;
  return (
    <>
      {declaration.isTyped && <TypedHere holder={declaration.session.holder} entryId={declaration.entryId} />}
      <section class="head" aria-label={t('head.name')}>
        <p class="car-number number">
          <span class="unseen">{t('head.number')} </span>
          {form.carNumber}
        </p>
        <div class="head-text">
          <p>
            <strong>
              <bdi>{form.runGroup}</bdi>
            </strong>
            {description !== '' && (
              <>
                {' '}
                · <bdi>{description}</bdi>
              </>
            )}
          </p>
          <p>
            <bdi>{name}</bdi> · {days}
          </p>
          {(!declaration.isTyped || !declaration.open.value) && (
            <p class={declaration.open.value ? '' : 'notice look'}>{windowText()}</p>
          )}
          <Elsewhere view={view} />
        </div>
      </section>
    </>
  );

  function windowText(): string {
    if (entry?.clearance.status === 'withdrawn') return t('window.withdrawn');
    if (form.window.open) return t('window.closes', { at: timeText(closesAt, timeZone) });
    const isBefore = new Date(opensAt).getTime() > Date.now();
    return isBefore
      ? t('window.opens', { at: timeText(opensAt, timeZone) })
      : t('window.closed', { at: timeText(closesAt, timeZone) });
  }
}

/** The ways to the car's own page, which the walk itself begins with, and to what was said last. */
function Elsewhere({ view }: { view: View }) {
  const { declaration, go } = useGarage();
  const inspection = declaration.inspection.value;
  return (
    <>
      {view.name !== 'walk' && !declaration.isTyped && (
        <p class="no-print">
          <a href="/car?entry">{t('head.car')}</a>
        </p>
      )}
      {view.name !== 'verdict' && inspection !== undefined && (
        <p class="row no-print">
          <button type="button" onClick={() => go({ name: 'verdict' })}>
            {t('head.verdict', { revision: inspection.revision })}
          </button>
        </p>
      )}
    </>
  );
}

/** Somebody of the staff types for the entrant: what that means, and the way back. */
function TypedHere({ holder, entryId }: { holder: string; entryId: string }) {
  const fromOffice = typedFrom() === 'office';
  const back = fromOffice ? `/office?section=entries&entry=${encodeURIComponent(entryId)}` : '/line';
  return (
    <div class="notice look stack no-print">
      <p>{t('typed.means', { holder })}</p>
      <p class="row">
        <a class="button" href={back}>
          {t(fromOffice ? 'typed.back.office' : 'typed.back')}
        </a>
      </p>
    </div>
  );
}

/** Always in view: what the rules say so far, how far the answers are, and whether they are safe. */
export function StatusBar({ isBrief, isSilent }: { isBrief: boolean; isSilent: boolean }) {
  const { declaration } = useGarage();
  if (isBrief) return <Brief declaration={declaration} />;
  return <Full declaration={declaration} isSilent={isSilent} />;
}

/** Beside what was submitted: only whether something is on its way. */
function Brief({ declaration }: { declaration: Declaration }) {
  const { kind } = declaration.sync.value;
  return (
    <p class={`sync no-print ${kind}`} role="status">
      {kind === 'saved' && declaration.pending.value === undefined ? '' : syncText(declaration)}
    </p>
  );
}

function Full({ declaration, isSilent }: { declaration: Declaration; isSilent: boolean }) {
  // Of a declaration that has hardly begun there is nothing to say yet.
  const verdict = isSilent ? undefined : declaration.verdict.value;
  const { asked, given } = countOf(declaration, declaration.shown.value);
  const { bar, inspect } = countFixes(declaration.judged.value.filter(({ result }) => result === 'not-met'));
  const kind = declaration.sync.value.kind;
  return (
    <div class="status-bar no-print">
      <p role="status" class="so-far">
        {verdict !== undefined && (
          <>
            <Mark kind={markOfVerdict(verdict)} />
            <span>
              <strong>{t(`so-far.${verdict}`)}</strong>
              {bar > 0 && ` · ${t('so-far.bar', { count: bar })}`}
              {inspect > 0 && ` · ${t('so-far.inspect', { count: inspect })}`}
            </span>
          </>
        )}
      </p>
      <p class="progress">
        <progress max={asked} value={given} aria-label={t('progress.name')} />
        <span>{t('progress', { given, asked })}</span>
      </p>
      <BroughtUp declaration={declaration} />
      <p class={`sync ${kind}`} role="status">
        {syncText(declaration)}
      </p>
    </div>
  );
}

/** Why there are more questions than before: the answers that brought them up. */
function BroughtUp({ declaration }: { declaration: Declaration }) {
  const { cells, because } = declaration.form.value?.asked ?? { cells: [], because: {} };
  const more = declaration.broughtUp.value.filter((cell) => cells.includes(cell));
  const answers = new Set(more.flatMap((cell) => because[cell] ?? []));
  if (answers.size === 0) return null;
  const items = declaration.items.value;
  const why = [...answers].slice(0, 2).map((cell) => {
    const place = items.flatMap(everyPlace).find((one) => one.cell === cell);
    const value = place === undefined ? '' : `: ${leafText(place.type, declaration.cells.value[cell])}`;
    return `${cellLabel(items, cell)}${value}`;
  });
  return (
    <p class="brought-up" role="status">
      {t('grown', { count: more.length, why: why.join('; ') })}
    </p>
  );
}

/** The state of what was typed, in words. */
function syncText(declaration: Declaration): string {
  const state = declaration.sync.value;
  const photos = declaration.waitingPhotos.value.length;
  const unsent = declaration.unsent.value.length + photos;
  if (declaration.pending.value !== undefined && state.kind !== 'ended') return t('sync.submitting');
  if (state.kind === 'offline') return unsent === 0 ? t('sync.offline') : t('sync.offline-unsent', { count: unsent });
  if (state.kind === 'failed') return t('sync.failed', { why: state.why });
  if (state.kind !== 'saved' && state.kind !== 'waiting') return t(`sync.${state.kind}`);
  const stuck = stuckCells(declaration).length;
  if (unsent === 0) return t('sync.saved');
  if (declaration.isTyped && stuck < unsent) return t('typed.kept', { count: unsent });
  return stuck === unsent ? t('sync.stuck', { count: stuck }) : t('sync.unsent', { count: unsent });
}

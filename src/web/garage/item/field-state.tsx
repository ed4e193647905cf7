import type { Finding } from '../../api/operations.ts';
import { isAbout, type Place } from '../kept/asked.ts';
import { isNoAnswer, sameLeaf } from '../kept/cells.ts';
import { confirm, doubtAbout, setCell } from '../kept/declaration.ts';
import { useGarage } from '../context.ts';
import { Mark, markOfCounts } from './mark.tsx';
import { inChosen, marginText, noAnswerText, pretty } from '../verdict/say.ts';
import { text } from '../text.ts';

const { t } = text;

/** What stands below a field: what is wrong with it, else what the rules make of it. */
export function FieldState({ place, id }: { place: Place; id: string }) {
  const { declaration } = useGarage();
  const { cell } = place;
  const fault = declaration.faults.value[cell];
  const isUnread = declaration.unread.value[cell] !== undefined;
  if (isUnread || fault !== undefined) {
    return (
      <>
        <p id={`${id}-fault`} class="fault">
          <Mark kind="bad" /> {isUnread ? t('fault.not-a-number') : faultText(place, fault)}
        </p>
        {!isUnread && <Meant place={place} id={id} />}
      </>
    );
  }
  const leaf = declaration.cells.value[cell];
  if (leaf === undefined) return null;
  if (isNoAnswer(leaf)) {
    return (
      <p class="state look">
        <Mark kind="look" /> {noAnswerText(leaf)}
      </p>
    );
  }
  if (declaration.doubted.value.includes(cell)) return <InDoubt place={place} id={id} />;
  if (!sameLeaf(declaration.base.value.cells[cell], declaration.cells.value[cell])) {
    return <p class="state soft">{t('state.not-judged')}</p>;
  }
  const finding = worstAt(declaration.findings.value, place);
  if (finding === undefined) return null;
  const kind = finding.result === 'met' ? 'good' : markOfCounts(finding.counts);
  return (
    <p class={`state ${kind}`}>
      <Mark kind={kind} /> {marginText(finding, decimalsOf(place)) ?? t(`result.${finding.result}`)}
    </p>
  );
}

/** A number that such a thing hardly has: asked back at once, and sent when it is said a second time. */
function InDoubt({ place, id }: { place: Place; id: string }) {
  const { declaration, sync } = useGarage();
  const doubt = doubtAbout(place, declaration.cells.value[place.cell]);
  if (doubt === undefined) return null;
  const value = shown(place, doubt.value);
  const isSo = (): void => {
    confirm(declaration, place.cell);
    sync.typed();
    document.getElementById(id)?.focus();
  };
  return (
    <div class="doubt stack" role="status">
      <p class="state look">
        <Mark kind="look" /> <span>{t('doubt.is', { value })}</span>
      </p>
      <Meant place={place} id={id} />
      <button type="button" onClick={isSo}>
        {t('doubt.so', { value })}
      </button>
    </div>
  );
}

/** What was probably meant, to be taken with one tap. */
function Meant({ place, id }: { place: Place; id: string }) {
  const { declaration, sync } = useGarage();
  const meant = doubtAbout(place, declaration.cells.value[place.cell])?.meant;
  if (meant === undefined) return null;
  const value = shown(place, meant);
  const take = (): void => {
    setCell(declaration, place.cell, meant);
    sync.typed();
    document.getElementById(id)?.focus();
  };
  return (
    <div class="row">
      <span>{t('doubt.meant', { value })}</span>
      <button type="button" onClick={take}>
        {t('doubt.take', { value })}
      </button>
    </div>
  );
}

const shown = ({ type }: Place, value: number): string =>
  type.kind === 'number' ? inChosen(value, type.unit, { decimals: type.decimals, largest: type.max }) : String(value);

const decimalsOf = ({ type }: Place): number => (type.kind === 'number' ? type.decimals : 1);

const RANK = { bar: 0, inspect: 1, advise: 2, no: 3 } as const;

/** The finding that weighs most of those about exactly this place; of those that are met, the one nearest to its limit. */
function worstAt(findings: readonly Finding[], { key, position, field }: Place): Finding | undefined {
  // A part that was left out on purpose has no finding of its own; the first part speaks for the answer.
  return findings
    .filter((one) => isAbout(one, key) && isWithin(one.position, position) && one.watched !== true)
    .filter((one) => field === undefined || one.result !== 'unanswerable')
    .toSorted((a, b) => RANK[a.counts] - RANK[b.counts] || nearness(a) - nearness(b))[0];
}

/** A finding at a place itself, or within the axle whose lowest value was given. */
function isWithin(at: string | undefined, position: string | undefined): boolean {
  if (at === position || at === undefined || position === undefined) return at === position;
  if (position === 'front' || position === 'rear') return at.startsWith(position === 'front' ? 'F' : 'R');
  return at.startsWith(`${position}.`);
}

const nearness = ({ margin }: Finding): number => margin?.value ?? Number.POSITIVE_INFINITY;

/** What is wrong with an answer, in the language of the page where we have it, else as the server said it. */
export function faultText({ type }: Place, fault: { code: string; detail: string } | undefined): string {
  if (fault === undefined) return '';
  if (fault.code === 'impossible-value' && type.kind === 'number') {
    const of = { decimals: type.decimals, largest: type.max };
    const [low, high] = [inChosen(type.min, type.unit, of), inChosen(type.max, type.unit, of)];
    return t('fault.impossible-value', { low, high });
  }
  if (fault.code === 'bad-date') return t('fault.bad-date');
  return pretty(fault.detail);
}

/** The attributes of a control that say that it is wrong, and where that is written. */
export function faultAttributes(hasFault: boolean, id: string, described?: string) {
  const ids = [described, hasFault ? `${id}-fault` : undefined].filter((one) => one !== undefined).join(' ');
  return {
    'aria-invalid': hasFault ? ('true' as const) : undefined,
    'aria-describedby': ids === '' ? undefined : ids,
  };
}

import type { ComponentChildren } from 'preact';
import type { Finding } from '../../api/operations.ts';
import '../../shared/car-plan.css';
import { useGarage } from '../context.ts';
import { countOf } from '../kept/answers-count.ts';
import { fixesOf, fixOf, type FormItem, isAbout, type Place, placesAt, placesOf } from '../kept/asked.ts';
import { type Cells, cellsOfAnswer, isNoAnswer, itemId } from '../kept/cells.ts';
import { saysText } from '../../shared/says.ts';
import { setCells } from '../kept/declaration.ts';
import { text } from '../text.ts';
import { cornerName, decimalsOfItem, leafText, limitText, partName, positionName } from '../verdict/say.ts';
import { ItemPhotos } from './item-photos.tsx';
import { Mark, markOfCounts } from './mark.tsx';
import { ItemNoAnswer } from './no-answer.tsx';
import { PlaceField } from './place-field.tsx';

/** The four wheels where they sit, seen from above. */
const CORNERS = ['FL', 'FR', 'RL', 'RR'] as const;
type Corner = (typeof CORNERS)[number];

/** The corner that a position belongs to: `FL.in` is at `FL`; undefined for what sits at no wheel. */
function cornerOf(position: string): Corner | undefined {
  return CORNERS.find((corner) => position === corner || position.startsWith(`${corner}.`));
}

/** Whether all of these positions sit at wheels, so that a plan of the car can hold them. */
const isAtWheels = (positions: readonly string[]): boolean =>
  positions.length > 0 && positions.every((position) => cornerOf(position) !== undefined);

interface CarPlanProps {
  /** what stands at the front end of the drawing, for who looks at it */
  front: string;
  /** what is at a corner; nothing where the car has none of it there */
  corner(corner: Corner): ComponentChildren;
}

/** A plan view of the car, nose up, with what belongs to each wheel beside it. The order in the page is FL FR RL RR. */
function CarPlan({ front, corner }: CarPlanProps) {
  return (
    <div class="car-plan">
      {CORNERS.map((one) => (
        <div key={one} class={`car-plan-corner car-plan-${one.toLowerCase()}`}>
          {corner(one)}
        </div>
      ))}
      <div class="car-plan-body" aria-hidden="true">
        <span>{front}</span>
        <Outline />
      </div>
    </div>
  );
}

/** Body, glass and wheels, nose up. */
function Outline() {
  return (
    <svg viewBox="0 0 60 140" focusable="false">
      <path class="car-plan-wheel" d="M2 22h8v24H2zM50 22h8v24h-8zM2 94h8v24H2zM50 94h8v24h-8z" />
      <path class="car-plan-shell" d="M12 30Q12 4 30 4T48 30V118Q48 136 30 136T12 118Z" />
      <path class="car-plan-glass" d="M17 52Q30 44 43 52L40 64H20ZM20 104H40L42 114Q30 120 18 114Z" />
      <path class="car-plan-arrow" d="M30 14l6 9H24z" />
    </svg>
  );
}

const { t } = text;

/** One question: how to look, the limits, the fields, what the rules say. */
export function Item({ item }: { item: FormItem }) {
  const id = itemId(item.key);
  return (
    <div class="panel item" role="group" aria-labelledby={id}>
      <h3 id={id} tabIndex={-1}>
        {item.label}
      </h3>
      <p class="help">{item.help}</p>
      <ItemLimits item={item} />
      <ItemEarlier item={item} />
      <ItemPlaces item={item} />
      <ItemNoAnswer item={item} />
      <ItemFindings item={item} />
      <ItemPhotos item={item} />
    </div>
  );
}

/** The answers of last time for places that have none yet. */
export function offeredCells(item: FormItem, cells: Cells): Cells {
  if (item.earlier === undefined) return {};
  const asked = new Set(placesOf(item).map(({ cell }) => cell));
  const earlier = Object.entries(cellsOfAnswer(item, item.earlier.answer));
  // Who was not sure last time may be now.
  const isOffered = ([cell, leaf]: (typeof earlier)[number]): boolean =>
    asked.has(cell) && cells[cell] === undefined && !(isNoAnswer(leaf) && 'notSure' in leaf);
  return Object.fromEntries(earlier.filter(isOffered));
}

/** What was answered last time, to be taken over with one tap; never by itself. */
function ItemEarlier({ item }: { item: FormItem }) {
  const { declaration, sync } = useGarage();
  const offered = offeredCells(item, declaration.cells.value);
  const places = placesOf(item).filter(({ cell }) => offered[cell] !== undefined);
  if (places.length === 0 || !declaration.open.value) return null;
  const said = places.map(({ cell, type, position, part }) => {
    const value = leafText(type, offered[cell]);
    const where = [position === undefined ? undefined : positionName(position), part?.label].filter(Boolean);
    return where.length === 0 ? value : `${where.join(', ')} ${value}`;
  });
  const isLong = said.length > 4;
  return (
    <div class="earlier row">
      {isLong ? (
        <details>
          <summary>{t('earlier.many', { count: said.length })}</summary>
          {said.join('; ')}
        </details>
      ) : (
        <span>{t('earlier.is', { value: said.join('; ') })}</span>
      )}
      <button
        type="button"
        onClick={() => {
          setCells(declaration, offered);
          sync.typed();
        }}
      >
        {t('earlier.take')} <span class="unseen">{item.label}</span>
      </button>
    </div>
  );
}

/** All fields of an item: at the wheels on a plan of the car, at other places as a list, else alone. */
function ItemPlaces({ item }: { item: FormItem }) {
  const { positions } = item;
  if (positions === undefined) return <Fields places={placesAt(item, undefined)} of={item.label} />;
  if (isAtWheels(positions)) return <Wheels item={item} positions={positions} />;
  return (
    <div class="places">
      {positions.map((position) => (
        <div key={position} class="place">
          <h4>{positionName(position)}</h4>
          <Fields places={placesAt(item, position)} of={positionName(position)} />
        </div>
      ))}
    </div>
  );
}

function Wheels({ item, positions }: { item: FormItem; positions: readonly string[] }) {
  return (
    <CarPlan
      front={t('plan.front')}
      corner={(corner) => {
        const here = positions.filter((position) => cornerOf(position) === corner);
        if (here.length === 0) return null;
        return (
          <div class="corner">
            <h4>{cornerName(corner)}</h4>
            {here.map((position) => (
              <Fields key={position} places={placesAt(item, position)} of={positionName(position)} at={position} />
            ))}
          </div>
        );
      }}
    />
  );
}

/** The fields at one position. `of` says for a screen reader which; `at` is a position with a part, as `FL.in`. */
function Fields({ places, of, at }: { places: readonly Place[]; of: string; at?: string }) {
  const part = at?.split('.')[1];
  return (
    <>
      {places.map((place) => {
        const label = place.part?.label ?? (part === undefined ? undefined : partName(part));
        const name = place.part === undefined ? of : `${of}, ${place.part.label}`;
        return <PlaceField key={place.cell} place={place} label={label} name={name} />;
      })}
    </>
  );
}

interface Asked {
  title: string;
  /** the limit as one sentence; absent where none can be made */
  sentence: string | undefined;
  effect: Finding['effect'];
  limit: string | undefined;
  positions: string[];
  conceded: string | undefined;
}

/** The limits of the run group, one line for each; places are named where they differ. */
function ItemLimits({ item }: { item: FormItem }) {
  const { declaration } = useGarage();
  const own = declaration.findings.value.filter((one) => isAbout(one, item.key));
  const said = item.rules.filter(({ ruleId, says }) => {
    const mine = own.filter((one) => one.ruleId === ruleId);
    // what to do first was done once the rule has an answer
    return mine.length > 0 && (says?.open !== true || mine.some(({ result }) => result === 'unanswerable'));
  });
  const all = linesOf(item, said);
  if (all.length === 0) return null;
  return (
    <ul class="limits">
      {all.map((line) => (
        <Line key={`${line.effect} ${line.sentence ?? line.title} ${line.limit}`} line={line} all={all} />
      ))}
    </ul>
  );
}

function linesOf(item: FormItem, rules: FormItem['rules']): Asked[] {
  const lines = new Map<string, Asked>();
  for (const rule of rules) {
    const limit = limitText(rule, decimalsOfItem(item));
    const sentence = rule.says === undefined ? undefined : saysText(rule.says);
    const name = sentence === undefined ? `${rule.ruleId}\n${limit ?? ''}` : `${rule.effect}\n${sentence}`;
    const line = lines.get(name) ?? {
      title: rule.title,
      sentence,
      effect: rule.effect,
      limit,
      positions: [],
      conceded: rule.concession?.reason,
    };
    if (rule.position !== undefined) line.positions.push(rule.position);
    lines.set(name, line);
  }
  return [...lines.values()];
}

function Line({ line, all }: { line: Asked; all: readonly Asked[] }) {
  const { title, sentence, limit, effect, positions, conceded } = line;
  const differs = positions.length > 0 && all.some((other) => other !== line && other.title === title);
  return (
    <li>
      {sentence ?? title}
      {sentence === undefined && limit !== undefined && (
        <>
          {': '}
          <strong>{limit}</strong>
        </>
      )}
      {differs && ` (${positions.map(positionName).join('; ')})`}{' '}
      <span class={`tag ${effect}`}>{t(`tag.${effect}`)}</span>
      {conceded !== undefined && <span> · {t('conceded', { reason: conceded })}</span>}
    </li>
  );
}

/** What is still missing of an item, and what is wrong and to be done about it. */
function ItemFindings({ item }: { item: FormItem }) {
  const { declaration } = useGarage();
  const { asked, given } = countOf(declaration, [item]);
  const own = declaration.judged.value.filter((finding) => isAbout(finding, item.key));
  const isOpen = given < asked;
  const isStuck = placesOf(item).some(({ cell }) => declaration.faults.value[cell] !== undefined);
  const fixes = fixesOf(own).filter(({ worst }) => worst.result === 'not-met' || (!isOpen && !isStuck));
  return (
    <>
      {isOpen && (
        <p class="state">
          <Mark kind="open" />{' '}
          {asked === 1 ? t('state.missing') : t('state.missing-of', { count: asked - given, asked })}
        </p>
      )}
      {fixes.map(({ worst, findings }) => (
        <p key={`${worst.ruleId} ${worst.message}`} class={`finding ${markOfCounts(worst.counts)}`}>
          <Mark kind={markOfCounts(worst.counts)} />{' '}
          <span>
            <strong>{t(`counts.${worst.counts}`)}</strong>
            {worst.position !== undefined &&
              ` (${findings.map(({ position }) => positionName(position ?? '')).join('; ')})`}
            {': '}
            {worst.message} {fixOf(worst)}
          </span>
        </p>
      ))}
    </>
  );
}

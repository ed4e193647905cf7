import { signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Finding } from '../../api/operations.ts';
import { saysText } from '../../shared/says.ts';
import { currentLanguage } from '../../shared/text.ts';
import { useGarage } from '../context.ts';
import { countOf } from '../kept/answers-count.ts';
import { everyPlace, fixesOf, fixOf, type FormItem, isAbout, placeOfCell, placesOf } from '../kept/asked.ts';
import { type Cells, cellsOfAnswer, isNoAnswer, itemId, sameLeaf } from '../kept/cells.ts';
import { setCells } from '../kept/declaration.ts';
import type * as Pictures from '../pictures/picture.tsx';
import { text } from '../text.ts';
import { dateText, decimalsOfItem, leafText, limitText, positionName, timeText } from '../verdict/say.ts';
import { ItemPhotos } from './item-photos.tsx';
import { ItemPlaces } from './item-places.tsx';
import { Mark, markOfCounts } from './mark.tsx';
import { ItemNoAnswer } from './no-answer.tsx';

const { t } = text;

/** One question: how to look, the limits, the fields, what the rules say. */
export function Item({ item }: { item: FormItem }) {
  const id = itemId(item.key);
  return (
    <div class="panel item" role="group" aria-labelledby={id}>
      <h3 id={id} tabIndex={-1}>
        {item.label}
      </h3>
      <ItemBody item={item} />
    </div>
  );
}

/** What stands below the heading of a question. */
export function ItemBody({ item }: { item: FormItem }) {
  return (
    <>
      <p class="help">{item.help}</p>
      <HowTo item={item.key} />
      <ItemLimits item={item} />
      <ItemEarlier item={item} />
      <ItemPlaces item={item} />
      <ItemSaid item={item} />
      <ItemNoAnswer item={item} />
      <ItemFindings item={item} />
      <ItemPhotos item={item} />
    </>
  );
}

/** One question where it is one of few on a screen: the limit before the field, and how to look folded below it. */
export function BriefItem({ item }: { item: FormItem }) {
  const id = itemId(item.key);
  return (
    <div class="brief-item" role="group" aria-labelledby={id}>
      <h3 id={id} tabIndex={-1}>
        {item.label}
      </h3>
      <ItemLimits item={item} isBrief />
      <ItemEarlier item={item} />
      <ItemPlaces item={item} />
      <ItemSaid item={item} />
      <ItemFindings item={item} isBrief />
      <div class="brief-more">
        <details>
          <summary>{t('item.how')}</summary>
          <p class="help">{item.help}</p>
          <HowTo item={item.key} />
          <ItemNoAnswer item={item} />
          <ItemPhotos item={item} />
        </details>
      </div>
    </div>
  );
}

/** The answers of last time for places that have none yet. */
export function offeredCells(item: FormItem, cells: Cells): Cells {
  if (item.earlier === undefined) return {};
  const asked = new Set(everyPlace(item).map(({ cell }) => cell));
  const earlier = Object.entries(cellsOfAnswer(item, item.earlier.answer));
  // Who was not sure last time may be now.
  const isOffered = ([cell, leaf]: (typeof earlier)[number]): boolean =>
    asked.has(cell) && cells[cell] === undefined && !(isNoAnswer(leaf) && 'notSure' in leaf);
  return Object.fromEntries(earlier.filter(isOffered));
}

/** Which of the answers here somebody of a shop signed; what was changed since is one's own. */
function ItemSaid({ item }: { item: FormItem }) {
  const { declaration } = useGarage();
  const form = declaration.form.value;
  // What was kept by an earlier version of the page has none.
  const said = (form?.said ?? []).flatMap(({ places, ...by }) => {
    const own = places.filter((place) => placeOfCell(place).key === item.key);
    return own.length === 0 ? [] : [{ ...by, places: own }];
  });
  const isUnchanged = everyPlace(item).every(({ cell }) =>
    sameLeaf(declaration.base.value.cells[cell], declaration.cells.value[cell]),
  );
  if (said.length === 0 || !isUnchanged || form === undefined) return null;
  return (
    <>
      {said.map(({ signatureId, shop, name, signedAt }) => (
        <p key={signatureId} class="soft">
          {t('said.by', { shop, name, time: timeText(signedAt, form.event.timeZone) })}
        </p>
      ))}
    </>
  );
}

/** What was answered last time, to be taken over with one tap; never by itself. */
function ItemEarlier({ item }: { item: FormItem }) {
  const { declaration, sync } = useGarage();
  const offered = offeredCells(item, declaration.cells.value);
  const places = everyPlace(item).filter(({ cell }) => offered[cell] !== undefined);
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
      <FromLog earlier={item.earlier} />
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

/** Whether that is from the log, and what was new then: nobody has to remember it. */
function FromLog({ earlier }: { earlier: FormItem['earlier'] }) {
  if (earlier?.loggedAt === undefined) return null;
  const renewed = (earlier.renewed ?? []).map(positionName).join(', ');
  return (
    <span class="soft">
      {t('earlier.logged', { date: dateText(earlier.loggedAt.slice(0, 10)) })}
      {renewed !== '' && ` ${t('earlier.renewed', { where: renewed })}`}
    </span>
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
function ItemLimits({ item, isBrief = false }: { item: FormItem; isBrief?: boolean }) {
  const { declaration } = useGarage();
  const own = declaration.findings.value.filter((one) => isAbout(one, item.key));
  const said = item.rules.filter(({ ruleId, says }) => {
    const mine = own.filter((one) => one.ruleId === ruleId);
    // what to do first was done once the rule has an answer
    return mine.length > 0 && (says?.open !== true || mine.some(({ result }) => result === 'unanswerable'));
  });
  const lines = linesOf(item, said);
  // Beside few questions the two that weigh most will do; all of them stand with the question where it is opened.
  const all = isBrief ? lines.filter(({ effect }) => effect !== 'advise').slice(0, 2) : lines;
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
function ItemFindings({ item, isBrief = false }: { item: FormItem; isBrief?: boolean }) {
  const { declaration } = useGarage();
  const { asked, given } = countOf(declaration, [item]);
  const own = declaration.judged.value.filter((finding) => isAbout(finding, item.key));
  const isOpen = given < asked;
  const isStuck = placesOf(item).some(({ cell }) => declaration.faults.value[cell] !== undefined);
  const fixes = fixesOf(own).filter(({ worst }) => worst.result === 'not-met' || (!isBrief && !isOpen && !isStuck));
  return (
    <>
      {isOpen && !isBrief && (
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

const pictures = signal<typeof Pictures | undefined>(undefined);
let fetching: Promise<void> | undefined;

/** Drawings and tools come after what is asked is on the screen; without them the words of the question still stand. */
async function fetchPictures(): Promise<void> {
  try {
    const loaded = await import('../pictures/picture.tsx');
    await loaded.text.load(currentLanguage());
    pictures.value = loaded;
  } catch {
    // No network just now: the next question tries again.
    fetching = undefined;
  }
}

/** How an item is looked at, in pictures, with what is needed and how long it takes. */
function HowTo({ item }: { item: string }) {
  useEffect(() => {
    fetching ??= fetchPictures();
  }, []);
  const loaded = pictures.value;
  return loaded === undefined ? null : <loaded.HowTo item={item} />;
}

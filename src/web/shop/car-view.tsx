import { useEffect, useMemo, useState } from 'preact/hooks';
import { Conflicts, StuckList, Taken } from '../garage/conflicts.tsx';
import { type Garage, GarageContext, useGarage } from '../garage/context.ts';
import { StatusBar } from '../garage/head.tsx';
import { Item } from '../garage/item/item.tsx';
import { Mark } from '../garage/item/mark.tsx';
import { countOf } from '../garage/kept/answers-count.ts';
import { placeOfCell } from '../garage/kept/asked.ts';
import type { SyncState } from '../garage/kept/declaration.ts';
import { startSync } from '../garage/kept/sync.ts';
import { dateText, limitText, timeText } from '../garage/verdict/say.ts';
import { Frame } from '../shared/frame.tsx';
import type { Session } from '../shared/session.ts';
import { words } from '../shared/text.ts';
import type { ShopCar } from '../api/operations.ts';
import { MARKS, partName, partText } from './cars.tsx';
import { openKeptWork, openWork, type ShopWork } from './shop-sync.ts';
import { linesOf, Sign, torqueText, weightText, whereText, WorkOrderView } from './work.tsx';
import { text } from './text.ts';
import { WorkSteps } from './work-steps.tsx';

/** The work order on paper: what, where, which part, room for the new value, and who did it. */
function Sheet({ car, work }: { car: ShopCar; work: ShopWork }) {
  const { declaration } = useGarage();
  const lines = linesOf({ declaration });
  return (
    <section class="sheet" aria-hidden="true">
      <header>
        <p class="sheet-number">{car.carNumber}</p>
        <div>
          <p class="sheet-title">{t('sheet.title', { number: car.carNumber })}</p>
          <p>
            {car.description}
            {car.colour !== undefined && ` · ${car.colour}`}
          </p>
          <p>{t('sheet.for', { owner: car.owner, event: car.event.name, day: dateText(car.event.startsOn) })}</p>
          {car.parts.length > 0 && (
            <p>{t('car.order', { day: dateText(car.orderBy), parts: car.parts.map(partText).join('; ') })}</p>
          )}
        </div>
      </header>
      {lines.length === 0 ? (
        <p>{t('work.none')}</p>
      ) : (
        <table>
          <tbody>
            {lines.map((line) => (
              <tr key={`${line.ruleId} ${line.message}`}>
                <td>
                  <strong>
                    {line.title}
                    {whereText(line)}
                  </strong>{' '}
                  · {weightText(line)}. {line.message} {line.fix}
                  {line.limit !== undefined &&
                    ` ${t('work.asked', { limit: limitText({ limit: line.limit }) ?? '' })}.`}
                  {line.part !== undefined && ` ${t('work.part', { part: partName(line.part) })}.`}
                </td>
                <td>{t('sheet.value')}:</td>
                <td>☐ {t('sheet.done')}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <WorkSteps work={work} />
      <p class="sheet-heading">{t('torque.title')}</p>
      <p>
        {torqueText(work)} {t('torque.others')}
      </p>
      <p>{t('sheet.caution')}</p>
      <p class="sheet-foot">{t('sheet.by')}</p>
    </section>
  );
}

const { t } = text;

interface Props {
  session: Session;
  shopLinkId: string;
  back(): void;
}

/** One car: its work order, the questions of the shop's part, and its signature. */
export function CarView({ session, shopLinkId, back }: Props) {
  const work = useMemo(() => openWork(session, shopLinkId), [session, shopLinkId]);
  const [garage, setGarage] = useState<Garage | undefined>(undefined);
  useEffect(() => {
    const { declaration, way } = work;
    const sync = startSync(declaration, [], way);
    setGarage({ declaration, sync, go: () => undefined });
    void openKeptWork(work).then(sync.now);
    return sync.stop;
  }, [work]);
  if (garage === undefined) return null;
  return (
    <GarageContext.Provider value={garage}>
      <Shown work={work} session={session} back={back} />
    </GarageContext.Provider>
  );
}

function Shown({ work, session, back }: { work: ShopWork; session: Session; back(): void }) {
  const { declaration } = useGarage();
  const { car } = work;
  const sync = declaration.sync.value;
  const form = declaration.form.value;
  const title = form === undefined ? t('title') : t('car.is', { number: form.carNumber });
  return (
    <Frame title={title}>
      <p class="no-print">
        <button type="button" onClick={back}>
          {t('car.back')}
        </button>
      </p>
      {form === undefined && <p role="status">{whyNoForm(sync.kind)}</p>}
      {form !== undefined && (
        <>
          <Head work={work} />
          <StatusBar isBrief={false} isSilent={false} />
          {sync.kind === 'ended' && (
            <p class="notice bad" role="alert">
              {t('ended')}
            </p>
          )}
          <Conflicts />
          <Taken />
          <div class="no-print">
            <WorkSteps work={work} />
          </div>
          <WorkOrderView work={work} />
          <Questions />
          <StuckList />
          <Sign work={work} session={session} />
          {car.value !== undefined && <Sheet car={car.value} work={work} />}
        </>
      )}
    </Frame>
  );
}

function whyNoForm(kind: SyncState['kind']): string {
  if (kind === 'failed') return t('car.gone');
  return kind === 'offline' ? t('car.not-here') : words.t('loading');
}

/** What car it is, whose, and the dates. */
function Head({ work: { car } }: { work: ShopWork }) {
  const { declaration } = useGarage();
  const known = car.value;
  const form = declaration.form.value;
  if (known === undefined || form === undefined) return null;
  const { state, event, areas } = known;
  const names = areas.map((area) => form.areas.find((one) => one.area === area)?.label ?? area);
  return (
    <section class="panel stack no-print" aria-labelledby="which">
      <h2 id="which">
        {known.description}
        {known.colour !== undefined && ` · ${known.colour}`}
      </h2>
      <p>
        {t('car.owner', {
          owner: known.owner,
          event: event.name,
          day: dateText(event.startsOn),
          group: known.runGroup,
        })}
      </p>
      {names.length > 0 && <p class="soft">{t('car.areas', { areas: names.join(', ') })}</p>}
      <p class={`state ${MARKS[state]}`}>
        <Mark kind={MARKS[state]} /> <strong>{t(`state.${state}`)}</strong>
      </p>
      <p>
        {known.declaredRevision === undefined
          ? t('car.declare', { time: timeText(known.declareBy, event.timeZone) })
          : t('car.sent', { revision: known.declaredRevision })}
        {known.signed !== undefined &&
          ` · ${t('car.signed', { name: known.signed.name, time: timeText(known.signed.signedAt, event.timeZone) })}`}
      </p>
    </section>
  );
}

/** The questions of the part, area by area; what no rule needs is folded away. */
function Questions() {
  const { declaration } = useGarage();
  const form = declaration.form.value;
  if (form === undefined) return null;
  const needed = new Set(form.asked.cells.map((cell) => placeOfCell(cell).key));
  return (
    <section class="stack no-print" aria-labelledby="questions">
      <h2 id="questions" tabIndex={-1}>
        {t('questions.title')}
      </h2>
      {form.areas.map(({ area, label }) => {
        const items = declaration.shown.value.filter((item) => item.area === area);
        if (items.length === 0) return null;
        const { given, asked } = countOf(declaration, items);
        const optional = items.filter(({ key }) => !needed.has(key));
        return (
          <details class="panel shop-area" key={area}>
            <summary>
              <h3>{label}</h3>
              <span class={given < asked ? 'state open' : 'state good'}>
                <Mark kind={given < asked ? 'open' : 'good'} /> {t('questions.count', { given, asked })}
              </span>
            </summary>
            {items
              .filter(({ key }) => needed.has(key))
              .map((item) => (
                <Item key={item.key} item={item} />
              ))}
            {optional.length > 0 && (
              <details class="more">
                <summary>{t('questions.more')}</summary>
                {optional.map((item) => (
                  <Item key={item.key} item={item} />
                ))}
              </details>
            )}
          </details>
        );
      })}
    </section>
  );
}

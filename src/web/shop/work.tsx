import { useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { signShopAnswers } from '../api/operations.ts';
import { useGarage } from '../garage/context.ts';
import type { Session } from '../shared/session.ts';
import { words } from '../shared/text.ts';
import type { ShopWork } from './shop-sync.ts';
import { text } from './text.ts';
import { type WorkLine, workOrder } from '../../domain/prepare/work-order.ts';
import { Item } from '../garage/item/item.tsx';
import { Mark, markOfCounts } from '../garage/item/mark.tsx';
import { type FormItem, placeOfCell } from '../garage/kept/asked.ts';
import { isNoAnswer } from '../garage/kept/cells.ts';
import { limitText, positionName } from '../garage/verdict/say.ts';
import { WorkItOut } from '../workshop/link.tsx';
import { partName } from './cars.tsx';

const { t } = text;

const KEPT = 'gridworthy.shop.signer';

type Told = { kind: 'good' | 'bad'; says: string };

/** Signing what was answered: by name, and the date is the server's. */
export function Sign({ work, session }: { work: ShopWork; session: Session }) {
  const { declaration, sync } = useGarage();
  const [name, setName] = useState(() => localStorage.getItem(KEPT) ?? '');
  const [told, setTold] = useState<Told | undefined>(undefined);
  const [isBusy, setBusy] = useState(false);
  const waits = declaration.unsent.value.length;
  // What was typed since is counted when it is saved.
  const unsigned = (work.car.value?.unsigned ?? 0) + (waits > 0 ? 1 : 0);
  const sign = async (): Promise<void> => {
    setBusy(true);
    localStorage.setItem(KEPT, name.trim());
    await sync.now();
    setTold(
      declaration.unsent.value.length > 0
        ? { kind: 'bad', says: t('sign.waits') }
        : await send(work, session, name.trim()),
    );
    setBusy(false);
  };
  return (
    <form
      class="panel stack no-print"
      aria-labelledby="sign"
      onSubmit={(event) => {
        event.preventDefault();
        if (name.trim() !== '') void sign();
      }}
    >
      <h2 id="sign" tabIndex={-1}>
        {t('sign.title')}
      </h2>
      <p>{t('sign.says')}</p>
      <label>
        {t('sign.who')}
        <input
          type="text"
          autoComplete="name"
          maxLength={80}
          required
          value={name}
          onInput={(event) => setName(event.currentTarget.value)}
        />
      </label>
      {unsigned === 0 ? (
        <p class="soft">{t('sign.nothing')}</p>
      ) : (
        <button type="submit" class="primary" disabled={isBusy}>
          {t('sign.act', { count: unsigned })}
        </button>
      )}
      <div role="status">{told !== undefined && <p class={`notice ${told.kind}`}>{told.says}</p>}</div>
    </form>
  );
}

/** Sends the signature for the version that is shown. */
async function send({ declaration, way }: ShopWork, session: Session, name: string): Promise<Told> {
  try {
    const params = { shopId: session.shopId ?? '', shopLinkId: declaration.entryId };
    const headers = { 'if-match': `"${declaration.base.value.rev}"`, 'idempotency-key': crypto.randomUUID() };
    await call(signShopAnswers, { params, headers, body: { name } }, { token: session.token });
    await way.pull(declaration);
    return { kind: 'good', says: t('sign.done') };
  } catch (error) {
    const says = whyNot(error);
    await way.pull(declaration).catch(() => undefined);
    return { kind: 'bad', says };
  }
}

function whyNot(error: unknown): string {
  if (!(error instanceof ApiProblem)) return words.t('network.none');
  return error.status === 412 ? t('sign.stale') : t('sign.failed', { why: error.message });
}

const WEIGHTS = { bar: 'work.stops', inspect: 'work.looks', advise: 'work.advice' } as const;
export const weightText = ({ counts }: WorkLine): string => t(WEIGHTS[counts]);

const nameOf = ({ ruleId, message }: WorkLine): string => `${ruleId}\n${message}`;

/** The lines of the work order as the answers are now. */
export function linesOf({ declaration }: Pick<ShopWork, 'declaration'>): readonly WorkLine[] {
  const cells = Object.entries(declaration.cells.value).filter(([, leaf]) => !isNoAnswer(leaf));
  return workOrder(declaration.judged.value, {}, new Set(cells.map(([cell]) => placeOfCell(cell).key))).lines;
}

export function whereText({ positions }: WorkLine): string {
  return positions.length === 0 ? '' : ` (${positions.map(positionName).join('; ')})`;
}

/** "110 N·m, 100 to 120 is accepted", or how to come by it. */
export function torqueText({ wheelTorque }: Pick<ShopWork, 'wheelTorque'>): string {
  const known = wheelTorque.value;
  if (known === undefined) return t('torque.none');
  const { nm, toleranceNm } = known;
  if (toleranceNm === undefined) return t('torque.is', { nm });
  return t('torque.is-range', { nm, low: nm - toleranceNm, high: nm + toleranceNm });
}

/** What is to be done to the car; who has done a job answers its question again there. */
export function WorkOrderView({ work }: { work: ShopWork }) {
  const { declaration } = useGarage();
  // What was opened stays while it is answered, also once it is good: it must not go from under the finger.
  const [opened, setOpened] = useState<readonly WorkLine[]>([]);
  const lines = linesOf(work);
  const isStill = (line: WorkLine): boolean => lines.some(({ ruleId }) => ruleId === line.ruleId);
  const settled = opened.filter((line) => !isStill(line));
  const isOpen = (line: WorkLine): boolean => opened.some(({ ruleId }) => ruleId === line.ruleId);
  const toggle = (line: WorkLine): void =>
    setOpened(isOpen(line) ? opened.filter(({ ruleId }) => ruleId !== line.ruleId) : [...opened, line]);
  const itemOf = ({ items }: WorkLine): FormItem | undefined =>
    declaration.items.value.find(({ key }) => key === items[0]);
  return (
    <section class="stack no-print" aria-labelledby="work">
      <h2 id="work" tabIndex={-1}>
        {t('work.title')}
      </h2>
      {lines.length === 0 && settled.length === 0 && <p class="panel">{t('work.none')}</p>}
      <ol class="stack plain">
        {[...settled, ...lines].map((line) => (
          <li key={nameOf(line)} class="panel stack">
            <Line line={line} isGood={!isStill(line)} />
            {itemOf(line) !== undefined && (
              <p>
                <button type="button" aria-expanded={isOpen(line)} onClick={() => toggle(line)}>
                  {t(isOpen(line) ? 'work.close' : 'work.done')} <span class="unseen">{line.title}</span>
                </button>
              </p>
            )}
            {isOpen(line) && <Again item={itemOf(line)} />}
          </li>
        ))}
      </ol>
      <section class="panel stack" aria-labelledby="torque">
        <h3 id="torque">{t('torque.title')}</h3>
        <p>{torqueText(work)}</p>
        <p class="soft">{t('torque.others')}</p>
      </section>
      <p>
        <button type="button" onClick={() => globalThis.print()}>
          {t('work.print')}
        </button>
      </p>
    </section>
  );
}

function Line({ line, isGood }: { line: WorkLine; isGood: boolean }) {
  const kind = isGood ? 'good' : markOfCounts(line.counts);
  const limit = limitText({ limit: line.limit });
  return (
    <>
      <h3>
        {line.title}
        {whereText(line)}
      </h3>
      <p class={`state ${kind}`}>
        <Mark kind={kind} /> <strong>{isGood ? t('work.good') : weightText(line)}</strong>
      </p>
      {!isGood && (
        <>
          <p>
            {line.message} <strong>{line.fix}</strong>
          </p>
          {limit !== undefined && <p class="soft">{t('work.asked', { limit })}</p>}
          {line.part !== undefined && <p>{t('work.part', { part: partName(line.part) })}</p>}
          <p>
            <WorkItOut from="shop" items={line.items} about={line.title} />
          </p>
        </>
      )}
    </>
  );
}

/** The question that the job is about, to be answered with what is so now. */
function Again({ item }: { item: FormItem | undefined }) {
  return item === undefined ? null : <Item item={item} />;
}

import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  getLinePlan,
  type LinePlanInput,
  type LinePlanned,
  type LinePlanView,
  planLine,
  previewLinePlan,
} from '../../api/operations.ts';
import { fromWallClock, toWallClock } from '../../shared/wall-clock.ts';
import { Form, Input } from '../parts/form.tsx';
import { dayAndTime, type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Loaded, Panel, Table, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { lineText, Outcome, toldText } from './outcome.tsx';

/** Texts of the times at the line, loaded with the part itself. */
export const text = lineText;

const { t } = text;
const PLAN_MS = 60_000;

/** When the line is open, what would come of it, and which car is told what. */
export function LineTimes({ office }: { office: OfficeContext }) {
  const { eventId, token } = office;
  const load = useLoad(`line plan ${eventId}`, async (signal) => {
    return (await call(getLinePlan, { params: { eventId } }, { token, signal })).body;
  });
  return (
    <Loaded of={load}>
      {(plan) => (
        <>
          <Hours key={plan.planned?.at ?? ''} office={office} plan={plan} onTold={load.reload} />
          <Told office={office} plan={plan} />
        </>
      )}
    </Loaded>
  );
}

/** A shift as it is typed: the wall clock at the venue. */
interface Row {
  id: number;
  from: string;
  to: string;
  inspectors: string;
}

interface HoursProps {
  office: OfficeContext;
  plan: LinePlanView;
  onTold(): void;
}

function Hours({ office, plan, onTold }: HoursProps) {
  const { eventId, token, timeZone } = office;
  const [rows, setRows] = useState<readonly Row[]>(() => toRows(plan, timeZone));
  const [minutes, setMinutes] = useState(String(plan.settings.minutesPerCar ?? ''));
  const [tried, setTried] = useState<{ body: LinePlanInput; outcome: LinePlanned }>();
  const change = (id: number, part: Partial<Row>) => {
    setTried(undefined);
    setRows(rows.map((row) => (row.id === id ? { ...row, ...part } : row)));
  };
  const show = async (): Promise<void> => {
    const body = toPlan(rows, minutes, timeZone);
    const answer = await call(previewLinePlan, { params: { eventId }, body }, { token, timeoutMs: PLAN_MS });
    setTried({ body, outcome: answer.body });
  };
  return (
    <>
      <Panel title={t('title')}>
        <p>{t('how')}</p>
        <p class="soft">{plan.isUsual ? t('usual') : plannedBy(plan, timeZone)}</p>
        <Form label={t('form')} submit={t('preview')} onSend={show}>
          {rows.map((row, at) => (
            <Shift
              key={row.id}
              {...{ row, at }}
              onChange={(part) => change(row.id, part)}
              onRemove={() => setRows(rows.filter(({ id }) => id !== row.id))}
            />
          ))}
          <div class="row">
            <button type="button" onClick={() => setRows(withNext(rows))}>
              {t('add')}
            </button>
          </div>
          <Input
            label={t('minutes')}
            hint={t('minutes.hint', {
              mean: plan.minutes.mean,
              from: t(`from.${plan.minutes.from}`, { measured: plan.minutes.measured }),
            })}
            pointer="/minutesPerCar"
            inputMode="decimal"
            value={minutes}
            onValue={(value) => {
              setTried(undefined);
              setMinutes(value);
            }}
          />
        </Form>
      </Panel>
      {tried !== undefined && <Tried {...{ ...tried, office }} onTold={onTold} />}
    </>
  );
}

/** What would come of a plan, and the button that makes it so. */
function Tried({
  office,
  body,
  outcome,
  onTold,
}: {
  office: OfficeContext;
  body: LinePlanInput;
  outcome: LinePlanned;
  onTold(): void;
}) {
  const { eventId, token, timeZone } = office;
  const [trouble, setTrouble] = useState<Trouble>();
  const tell = async (): Promise<void> => {
    setTrouble(undefined);
    try {
      await call(planLine, { params: { eventId }, body }, { token, timeoutMs: PLAN_MS });
      say(t('told'));
      onTold();
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  return (
    <Panel title={t('result')}>
      <Outcome outcome={outcome} timeZone={timeZone} />
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <div class="row">
        <button type="button" class="primary" onClick={() => void tell()}>
          {t('tell')}
        </button>
        <span class="soft">{t('tell.count', { count: outcome.messages })}</span>
      </div>
    </Panel>
  );
}

function Shift({
  row,
  at,
  onChange,
  onRemove,
}: {
  row: Row;
  at: number;
  onChange(part: Partial<Row>): void;
  onRemove(): void;
}) {
  return (
    <fieldset class="fields">
      <legend>{t('shift', { number: at + 1 })}</legend>
      <Input
        label={t('from')}
        type="datetime-local"
        pointer={`/shifts/${at}/from`}
        value={row.from}
        onValue={(from) => onChange({ from })}
      />
      <Input
        label={t('to')}
        type="datetime-local"
        pointer={`/shifts/${at}/to`}
        value={row.to}
        onValue={(to) => onChange({ to })}
      />
      <Input
        label={t('inspectors')}
        inputMode="numeric"
        pointer={`/shifts/${at}/inspectors`}
        value={row.inspectors}
        onValue={(inspectors) => onChange({ inspectors })}
      />
      <button type="button" onClick={onRemove}>
        {t('remove')}
      </button>
    </fieldset>
  );
}

const plannedBy = ({ planned }: LinePlanView, timeZone: string): string =>
  planned === undefined ? '' : t('planned', { by: planned.by, at: dayAndTime(planned.at, timeZone) });

const toRows = ({ settings }: LinePlanView, timeZone: string): Row[] =>
  settings.shifts.map(({ from, to, inspectors }, id) => ({
    id,
    from: toWallClock(from, timeZone),
    to: toWallClock(to, timeZone),
    inspectors: String(inspectors),
  }));

/** One more, where the last one ends. */
function withNext(rows: readonly Row[]): Row[] {
  const last = rows.at(-1);
  const id = Math.max(-1, ...rows.map((row) => row.id)) + 1;
  return [...rows, { id, from: last?.to ?? '', to: '', inspectors: last?.inspectors ?? '2' }];
}

/** As it is sent; what is no number the server refuses at its place. */
function toPlan(rows: readonly Row[], minutes: string, timeZone: string): LinePlanInput {
  const shifts = rows.map(({ from, to, inspectors }) => ({
    from: fromWallClock(from, timeZone),
    to: fromWallClock(to, timeZone),
    inspectors: Number(inspectors),
  }));
  return { shifts, ...(minutes.trim() === '' ? {} : { minutesPerCar: Number(minutes.replace(',', '.')) }) };
}

function Told({ office: { timeZone }, plan }: { office: OfficeContext; plan: LinePlanView }) {
  if (plan.cars.length === 0) return null;
  return (
    <Panel title={t('now')}>
      <Table caption={t('cars')} head={[t('car'), t('time'), t('due'), t('state')]}>
        {plan.cars.map(({ entryId, carNumber, runGroup, told, dueAt, state, isLate }) => (
          <tr key={entryId}>
            <th scope="row">
              {carNumber} <span class="soft">{runGroup}</span>
            </th>
            <td class="number">{told === undefined ? t('none') : toldText(told, timeZone)}</td>
            <td class="number">{dayAndTime(dueAt, timeZone)}</td>
            <td>
              {t(`state.${state}`)}
              {isLate && <strong> · {t('late')}</strong>}
            </td>
          </tr>
        ))}
      </Table>
    </Panel>
  );
}

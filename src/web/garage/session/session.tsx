import { useState } from 'preact/hooks';
import { conditionIn } from '../../../domain/log/condition-words.ts';
import { chosenUnits, showQuantity } from '../../shared/units.ts';
import { currentLanguage } from '../../shared/text.ts';
import { useGarage } from '../context.ts';
import { CarPlan } from '../item/item-places.tsx';
import { text as page } from '../text.ts';
import { cornerName, timeText } from '../verdict/say.ts';
import type { FormView } from '../kept/form.ts';
import { type Fields, NumberField, signOf, text, Written } from './written.tsx';
import {
  AXLE_NAMES,
  entriesOf,
  type FieldName,
  keepTyped,
  LOOKS,
  NOTHING,
  readTyped,
  STOPS,
  type Symptom,
  type Typed,
} from './entries.ts';
import { Laps, SessionNumber } from './laps.tsx';

export { text } from './written.tsx';
const { t } = text;

/** What is written down after a session: one screen, half a minute, with a network or without. */
export function SessionPage({ form }: { form: FormView }) {
  const { declaration, go } = useGarage();
  const [typed, setTyped] = useState<Typed>(() => readTyped(declaration.entryId));
  const [unreadable, setUnreadable] = useState<readonly FieldName[]>([]);
  const [isEmpty, setEmpty] = useState(false);
  const logs = declaration.logs.value;
  const torqueNm = numberIn(declaration.entry.value?.vehicle['wheelNutTorqueNm']);
  const set = (change: Partial<Typed>): void => {
    const next = { ...typed, ...change };
    setTyped(next);
    setEmpty(false);
    keepTyped(declaration.entryId, next);
  };
  const write = (): void => {
    const { pressure, length, torque } = chosenUnits.value;
    const made = entriesOf(typed, { pressure, length, torque }, { torqueNm }, new Date().toISOString());
    setUnreadable(made.unreadable);
    setEmpty(made.bodies.length === 0 && made.unreadable.length === 0);
    if (made.bodies.length === 0 || made.unreadable.length > 0 || logs === undefined) return;
    logs.write(made.bodies);
    const count = Number(typed.session);
    const session = Number.isInteger(count) && count > 0 ? String(count + 1) : typed.session;
    set({ ...NOTHING, session });
    document.getElementById('written')?.scrollIntoView({ block: 'center' });
  };
  const fields = { typed, set, unreadable };
  return (
    <section class="screen stack" aria-labelledby="session">
      <div class="row no-print">
        <button type="button" class="quiet" onClick={() => go({ name: 'walk' })}>
          {page.t('screen.back')}
        </button>
      </div>
      <h2 id="session" tabIndex={-1}>
        {t('title')}
      </h2>
      <DueNow form={form} />
      <SessionNumber {...fields} />
      <Pressures {...fields} />
      <Torque {...fields} torqueNm={torqueNm} />
      <Pads {...fields} form={form} />
      <Felt {...fields} />
      <Laps {...fields} />
      <Note {...fields} />
      <p role="alert" class="fault">
        {unreadable.length > 0 && t('unreadable')}
        {isEmpty && t('empty')}
      </p>
      <button type="button" class="primary go-on" onClick={write}>
        {t('write')}
      </button>
      {logs !== undefined && <Written logs={logs} />}
    </section>
  );
}

const numberIn = (value: unknown): number | undefined => (typeof value === 'number' ? value : undefined);

/** What was asked for at the line, with its time: the reason to be here. */
function DueNow({ form }: { form: FormView }) {
  const { declaration } = useGarage();
  const conditions = declaration.entry.value?.clearance.conditions ?? [];
  if (conditions.length === 0) return null;
  return (
    <ul class="notice look">
      {conditions.map(({ id, text: asked, dueAt }) => {
        const what = conditionIn(asked, currentLanguage());
        return (
          <li key={id}>{dueAt === undefined ? what : t('due', { what, at: timeText(dueAt, form.event.timeZone) })}</li>
        );
      })}
    </ul>
  );
}

function Pressures({ typed, set, unreadable }: Fields) {
  const unit = signOf(chosenUnits.value.pressure);
  return (
    <fieldset class="stack">
      <legend>{t('hot')}</legend>
      <CarPlan
        front={page.t('plan.front')}
        corner={(wheel) => (
          <NumberField
            name={`hot.${wheel}`}
            label={cornerName(wheel)}
            unit={unit}
            value={typed.hot[wheel]}
            unreadable={unreadable}
            onType={(value) => set({ hot: { ...typed.hot, [wheel]: value } })}
          />
        )}
      />
    </fieldset>
  );
}

function Torque({ typed, set, unreadable, torqueNm }: Fields & { torqueNm: number | undefined }) {
  const other = (
    <>
      <NumberField
        name="torque"
        label={t('torque.set-to')}
        unit={signOf(chosenUnits.value.torque)}
        value={typed.torque}
        unreadable={unreadable}
        onType={(torque) => set({ torque, asRecorded: false })}
      />
      <label class="option">
        <input
          type="checkbox"
          checked={typed.cooled}
          onChange={({ currentTarget: { checked } }) => set({ cooled: checked })}
        />
        <span>{t('torque.cooled')}</span>
      </label>
    </>
  );
  return (
    <fieldset class="stack">
      <legend>{t('torque')}</legend>
      {torqueNm === undefined ? (
        other
      ) : (
        <>
          <label class="option">
            <input
              type="checkbox"
              checked={typed.asRecorded}
              onChange={({ currentTarget: { checked } }) => set({ asRecorded: checked, torque: '' })}
            />
            <span>{t('torque.as-recorded', { value: showQuantity(torqueNm, 'N·m', currentLanguage()) })}</span>
          </label>
          <details>
            <summary>{t('torque.differs')}</summary>
            {other}
          </details>
        </>
      )}
    </fieldset>
  );
}

/** The thinnest pad of each axle that has pads. */
function Pads({ typed, set, unreadable, form }: Fields & { form: FormView }) {
  const positions = form.items.find(({ key }) => key === 'pad.thickness')?.positions ?? [];
  const axles = AXLE_NAMES.filter((axle) => positions.some((at) => at.startsWith(axle === 'front' ? 'F' : 'R')));
  if (axles.length === 0) return null;
  return (
    <fieldset class="stack">
      <legend>{t('pads')}</legend>
      <div class="lowest">
        {axles.map((axle) => (
          <NumberField
            key={axle}
            name={`pads.${axle}`}
            label={cornerName(axle)}
            unit={signOf(chosenUnits.value.length)}
            value={typed.pads[axle]}
            unreadable={unreadable}
            onType={(value) => set({ pads: { ...typed.pads, [axle]: value } })}
          />
        ))}
      </div>
      {axles
        .filter((axle) => typed.pads[axle].trim() !== '')
        .map((axle) => (
          <label key={axle} class="option">
            <input
              type="checkbox"
              checked={typed.newPads.includes(axle)}
              onChange={({ currentTarget: { checked } }) =>
                set({ newPads: [...typed.newPads.filter((one) => one !== axle), ...(checked ? [axle] : [])] })
              }
            />
            <span>{t('pads.new', { where: cornerName(axle) })}</span>
          </label>
        ))}
    </fieldset>
  );
}

function Felt({ typed, set }: Fields) {
  const row = (symptom: Symptom) => (
    <label key={symptom} class="option">
      <input
        type="checkbox"
        checked={typed.symptoms.includes(symptom)}
        onChange={({ currentTarget: { checked } }) =>
          set({ symptoms: [...typed.symptoms.filter((one) => one !== symptom), ...(checked ? [symptom] : [])] })
        }
      />
      <span>{t(`felt.${symptom}`)}</span>
    </label>
  );
  return (
    <>
      <fieldset class="stack">
        <legend>{t('felt')}</legend>
        <p>{t('felt.stops')}</p>
        <div class="options many stops">{STOPS.map(row)}</div>
      </fieldset>
      <details>
        <summary>{t('felt.more')}</summary>
        <div class="options many">{LOOKS.map(row)}</div>
      </details>
    </>
  );
}

function Note({ typed, set }: Fields) {
  return (
    <label>
      {t('note')}
      <input
        type="text"
        maxLength={1000}
        value={typed.note}
        onInput={({ currentTarget: { value } }) => set({ note: value })}
      />
    </label>
  );
}

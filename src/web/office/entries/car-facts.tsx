import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type CarFacts as Known, changeCarFacts, type EntryView, getCarFacts } from '../../api/operations.ts';
import { type Asked, askedIn, SECTIONS } from '../../car/questions.ts';
import { text as carText } from '../../car/text.ts';
import { Fact } from '../overview/what-now.tsx';
import { type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Loaded, Panel, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;
/** The words of "your car", loaded with this part. */
export { carText as text };

/** Texts of fields and options come from the table of questions; a test holds the two together. */
const word = (key: string): string => carText.t(key as never);

type OneFact = Known['facts'][number];

interface Props {
  entry: EntryView;
  office: OfficeContext;
  /** changes when the entry was read again */
  at: number;
  /** the gate may say something else now */
  reload(): void;
}

/** What is known of the car, in words; what the owner said is confirmed here by who has seen it. */
export function CarFacts({ entry, office, at, reload }: Props) {
  const { vehicleId } = entry;
  const { token } = office;
  const load = useLoad(`car facts ${vehicleId} ${at}`, async (signal) => {
    return (await call(getCarFacts, { params: { vehicleId } }, { token, signal })).body;
  });
  return (
    <Panel title={t('vehicle.title')}>
      {entry.shared && <p class="notice">{t('vehicle.shared')}</p>}
      <Loaded of={load}>
        {(known) => (
          <Shown
            known={known}
            office={office}
            changed={() => {
              load.reload();
              reload();
            }}
          />
        )}
      </Loaded>
    </Panel>
  );
}

function Shown({ known, office, changed }: { known: Known; office: OfficeContext; changed(): void }) {
  const facts = new Map(known.facts.map((one) => [one.path, one]));
  const values = Object.fromEntries(known.facts.map(({ path, value }) => [path, value]));
  const given = SECTIONS.flatMap((section) => askedIn(section, values)).filter(({ paths }) =>
    facts.has(paths[0] ?? ''),
  );
  const open = given.filter(({ paths }) => paths.some((path) => facts.get(path)?.isConfirmed === false));
  return (
    <>
      <p>
        <strong>
          {[values['description'], values['colour']].filter((part) => typeof part === 'string').join(', ')}
        </strong>
      </p>
      {open.length > 0 && (
        <>
          <p>{t('vehicle.open', { count: open.length })}</p>
          <ul class="plain stack">
            {open.map((asked) => (
              <Open key={asked.paths[0]} {...{ asked, facts, known, office, changed }} />
            ))}
          </ul>
        </>
      )}
      <details>
        <summary>{t('vehicle.record')}</summary>
        <dl class="facts">
          {given.map((asked) => (
            <Fact key={asked.paths[0]} name={nameOf(asked)} value={valueOf(asked, facts)} />
          ))}
        </dl>
      </details>
    </>
  );
}

const nameOf = ({ question, place }: Asked): string =>
  [word(`q.${question.field}`), ...(place === undefined ? [] : [word(`place.${place}`)])].join(', ');

/** The value in words; where the wheels of an axle differ, both. */
function valueOf({ question, paths }: Asked, facts: ReadonlyMap<string, OneFact>): string {
  const { answer, field } = question;
  const each = paths.flatMap((path) => {
    const value = facts.get(path)?.value;
    if (value === undefined) return [];
    if (typeof value === 'boolean') return [word(value ? 'yes' : 'no')];
    if (answer.kind === 'choice') return [word(`o.${field}.${value}`)];
    return [answer.kind === 'number' ? `${value.toLocaleString()} ${answer.unit}` : String(value)];
  });
  return [...new Set(each)].join(' / ');
}

interface OpenProps {
  asked: Asked;
  facts: ReadonlyMap<string, OneFact>;
  known: Known;
  office: OfficeContext;
  changed(): void;
}

/** One thing that nobody of the staff stands for yet. */
function Open({ asked, facts, known, office, changed }: OpenProps) {
  const [busy, setBusy] = useState(false);
  const [trouble, setTrouble] = useState<Trouble>();
  const from = facts.get(asked.paths[0] ?? '');
  const name = nameOf(asked);
  const confirm = async (): Promise<void> => {
    if (busy) return;
    setBusy(true);
    setTrouble(undefined);
    try {
      // What is unusual was asked about where it was entered; here somebody has seen it.
      const written = asked.paths.flatMap((path) => {
        const value = facts.get(path)?.value;
        return value === undefined ? [] : [{ path, value, again: true as const }];
      });
      const params = { vehicleId: known.vehicleId };
      await call(changeCarFacts, { params, body: { facts: written } }, { token: office.token });
      say(t('vehicle.confirmed', { what: name }));
      changed();
    } catch (error) {
      setTrouble(troubleOf(error));
    } finally {
      setBusy(false);
    }
  };
  return (
    <li class="row spread" data-fact={asked.paths[0]}>
      <span>
        {name}: <strong>{valueOf(asked, facts)}</strong>{' '}
        {from?.by !== undefined && (
          <span class="soft">
            {t('vehicle.saidBy', {
              by: from.by.name ?? t(`vehicle.by.${from.by.as}`),
              from: word(`origin.${from.origin}`),
            })}
          </span>
        )}
      </span>
      <button type="button" aria-disabled={busy} onClick={() => void confirm()}>
        {t('vehicle.confirm')} <span class="unseen">{name}</span>
      </button>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
    </li>
  );
}

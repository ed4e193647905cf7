import { useId, useState } from 'preact/hooks';
import { aboutOf, type Car, type Origin, type WaitingWrite, type Write } from './car.ts';
import type { Asked, Facts } from './questions.ts';
import { text } from './text.ts';

const { t } = text;
const ORIGINS: readonly Origin[] = ['stamped', 'handbook', 'entered'];

/** Texts of fields and options come from the table of questions; a test holds the two together. */
const say = (key: string): string => t(key as never);

type Known = Car['known']['value']['facts'][number];

/** What the page itself says of what was just done here. */
type Told = { kind: 'written' } | { kind: 'refused'; says: string };

/** One question about the car. It is kept on this device and sent at once, and says how far that went. */
export function QuestionField({ car, asked }: { car: Car; asked: Asked }) {
  const { question, place, paths } = asked;
  const [told, setTold] = useState<Told | undefined>(undefined);
  const [origin, setOrigin] = useState<Origin>(question.isStamped === true ? 'stamped' : 'entered');
  const id = useId();
  const value = valueIn(asked, car.facts.value);
  const known = car.known.value.facts.find(({ path }) => path === paths[0]);
  const waits = car.waiting.value.findLast(({ write }) => aboutOf(write) === aboutOf({ paths }));
  const label = `${say(`q.${question.field}`)}${place === undefined ? '' : `, ${t(`place.${place}`)}`}`;
  const save = (next: Omit<Write, 'paths'>): void => {
    car.write({ paths, ...next });
    setTold({ kind: 'written' });
  };
  const from = question.isStamped === true ? { origin } : {};
  return (
    <div class="question">
      <label for={id}>{label}</label>
      <div class="row">
        <Input
          id={id}
          asked={asked}
          value={value}
          save={(next) => save({ value: next, ...from })}
          refuse={(says) => setTold({ kind: 'refused', says })}
        />
        {question.isStamped === true && (
          <ReadFrom
            chosen={waits?.write.origin ?? readFrom(known) ?? origin}
            choose={(next) => {
              setOrigin(next);
              if (value !== undefined) save({ value, origin: next });
            }}
          />
        )}
      </div>
      {waits === undefined && <Standing known={known} />}
      {question.isStamped === true && value !== undefined && (
        <Photo car={car} asked={asked} fail={() => setTold({ kind: 'refused', says: t('photo.failed') })} />
      )}
      <HowItWent told={told} waits={waits} meant={() => waits !== undefined && save({ ...waits.write, again: true })} />
    </div>
  );
}

/** Of what is asked once for many places, there is a value only when all of them have it. */
function valueIn({ place, paths: [first = '', ...others] }: Asked, facts: Facts): Facts[string] | undefined {
  const value = facts[first];
  return place === 'everywhere' && others.some((path) => facts[path] !== value) ? undefined : value;
}

const readFrom = (known: Known | undefined): Origin | undefined => ORIGINS.find((one) => one === known?.origin);

/** From what a number was read. */
function ReadFrom({ chosen, choose }: { chosen: Origin; choose(origin: Origin): void }) {
  return (
    <label class="read-from">
      <span>{t('read-from')}</span>
      <select
        value={chosen}
        onChange={(event) => choose(ORIGINS.find((one) => one === event.currentTarget.value) ?? 'entered')}
      >
        {ORIGINS.map((one) => (
          <option key={one} value={one}>
            {t(`origin.${one}`)}
          </option>
        ))}
      </select>
    </label>
  );
}

function sayHow(told: Told | undefined, waits: WaitingWrite | undefined): string | undefined {
  if (told?.kind === 'refused') return told.says;
  if (waits !== undefined) return waits.refused ?? t('not-told');
  return told === undefined ? undefined : t('saved');
}

/** Whether the organizer has it, and the way on where it was not taken. */
function HowItWent({ told, waits, meant }: { told: Told | undefined; waits: WaitingWrite | undefined; meant(): void }) {
  const isGood = told?.kind !== 'refused' && waits?.refused === undefined;
  return (
    <>
      <p role="status" class={isGood ? 'saved' : 'fault'}>
        {sayHow(told, waits)}
      </p>
      {waits?.code === 'implausible' && (
        <button type="button" onClick={meant}>
          {t('again')}
        </button>
      )}
    </>
  );
}

/** Whether the staff stands for it, or the line looks at it once. */
function Standing({ known }: { known: Known | undefined }) {
  if (known === undefined) return null;
  return <p class="standing">{known.isConfirmed ? t('confirmed') : t('unconfirmed')}</p>;
}

interface InputProps {
  id: string;
  asked: Asked;
  value: string | number | boolean | undefined;
  save(value: Write['value']): void;
  refuse(says: string): void;
}

function Input({ id, asked: { question }, value, save, refuse }: InputProps) {
  const { answer, field } = question;
  // Until it is left, what is typed stands: the answer to another question draws the page anew.
  const [typing, setTyping] = useState<string | undefined>(undefined);
  if (answer.kind === 'choice' || answer.kind === 'yes-no') {
    const options = answer.kind === 'choice' ? answer.options : [true, false];
    return (
      <select
        id={id}
        value={value === undefined ? '' : String(value)}
        onChange={(event) => {
          const chosen = options.find((one) => String(one) === event.currentTarget.value);
          save(chosen ?? null);
        }}
      >
        <option value="">{t('not-known')}</option>
        {options.map((one) => (
          <option key={String(one)} value={String(one)}>
            {typeof one === 'boolean' ? t(one ? 'yes' : 'no') : say(`o.${field}.${one}`)}
          </option>
        ))}
      </select>
    );
  }
  return (
    <>
      <input
        id={id}
        type="text"
        inputMode={answer.kind === 'number' ? 'decimal' : 'text'}
        value={typing ?? (value === undefined ? '' : shown(value))}
        onInput={(event) => setTyping(event.currentTarget.value)}
        onChange={(event) => {
          const typed = event.currentTarget.value.trim();
          const read = answer.kind === 'number' ? readNumber(typed) : typed;
          if (read === undefined && typed !== '') return refuse(t('no-number'));
          save(typed === '' ? null : (read ?? null));
          setTyping(undefined);
        }}
      />
      {answer.kind === 'number' && <span>{answer.unit}</span>}
    </>
  );
}

const shown = (value: string | number | boolean): string =>
  typeof value === 'number'
    ? value.toLocaleString(document.documentElement.lang, { useGrouping: false })
    : String(value);

/** As people type it: a comma or a point, and perhaps the unit after it. */
function readNumber(typed: string): number | undefined {
  const match = /^(\d+(?:[.,]\d+)?)\s*\D*$/u.exec(typed);
  return match?.[1] === undefined ? undefined : Number(match[1].replace(',', '.'));
}

const PHOTO_OF: Readonly<Record<string, string>> = {
  rotorMinimumThicknessMm: 'rotor.thickness',
  rotorMinimumWeightG: 'rotor.weight',
  drumMaximumDiameterMm: 'drum.diameter',
};

interface PhotoProps {
  car: Car;
  asked: Asked;
  fail(): void;
}

/** A photo of the stamp, where the declaration has a place to keep it. */
function Photo({ car, asked, fail }: PhotoProps) {
  const item = PHOTO_OF[asked.question.field];
  const [path = ''] = asked.paths;
  const position = path.split('.')[1];
  if (item === undefined || position === undefined || car.session.entryId === undefined) return null;
  const waits = car.photosWaiting.value.find((one) => one.path === path);
  if (waits !== undefined && waits.refused === undefined) return <p role="status">{t('photo.waits')}</p>;
  const send = (file: File): void => void car.addPhoto({ paths: asked.paths, file, item, position }).catch(fail);
  return (
    <>
      {waits !== undefined && <p class="fault">{waits.refused}</p>}
      <label class="button photo">
        {t('photo')}
        <input
          type="file"
          accept="image/jpeg,image/png,image/webp"
          class="unseen"
          onChange={(event) => {
            const file = event.currentTarget.files?.[0];
            if (file !== undefined) send(file);
          }}
        />
      </label>
    </>
  );
}

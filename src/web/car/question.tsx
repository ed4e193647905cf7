import { useId, useState } from 'preact/hooks';
import { type Car, factsOf, type Origin, type Write, type Written } from './car.ts';
import type { Asked } from './questions.ts';
import { text } from './text.ts';

const { t } = text;
const ORIGINS: readonly Origin[] = ['stamped', 'handbook', 'entered'];

/** Texts of fields and options come from the table of questions; a test holds the two together. */
const say = (key: string): string => t(key as never);

/** One question about the car. It is saved at once, and says how that went. */
export function QuestionField({ car, asked }: { car: Car; asked: Asked }) {
  const { question, axle, paths } = asked;
  const [written, setWritten] = useState<Written | undefined>(undefined);
  const [last, setLast] = useState<Write | undefined>(undefined);
  const [origin, setOrigin] = useState<Origin>(question.isStamped === true ? 'stamped' : 'entered');
  const id = useId();
  const value = factsOf(car.known.value)[paths[0] ?? ''];
  const known = car.known.value.facts.find(({ path }) => path === paths[0]);
  const label = `${say(`q.${question.field}`)}${axle === undefined ? '' : `, ${t(`axle.${axle}`)}`}`;
  const save = async (next: Omit<Write, 'paths' | 'origin'>): Promise<void> => {
    const write: Write = { paths, ...(question.isStamped && { origin }), ...next };
    setLast(write);
    setWritten(await car.write(write));
  };
  return (
    <div class="question">
      <label for={id}>{label}</label>
      <div class="row">
        <Input id={id} asked={asked} value={value} save={(next) => void save({ value: next })} refuse={setWritten} />
        {question.isStamped === true && (
          <ReadFrom
            chosen={known === undefined || known.origin === 'confirmed' ? origin : known.origin}
            choose={(next) => {
              setOrigin(next);
              if (value !== undefined) void car.write({ paths, value, origin: next }).then(setWritten);
            }}
          />
        )}
      </div>
      <Standing known={known} />
      {question.isStamped === true && value !== undefined && <Photo car={car} asked={asked} done={setWritten} />}
      <HowItWent
        written={written}
        meant={() => last !== undefined && void save({ value: last.value, again: true })}
        repeat={() => last !== undefined && void car.write(last).then(setWritten)}
      />
    </div>
  );
}

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

function sayWritten(written: Written): string {
  if (written.kind === 'saved') return t('saved');
  return written.kind === 'offline' ? t('offline') : written.says;
}

/** Whether it was saved, and the way on where it was not. */
function HowItWent({ written, meant, repeat }: { written: Written | undefined; meant(): void; repeat(): void }) {
  const isGood = written === undefined || written.kind === 'saved';
  return (
    <>
      <p role="status" class={isGood ? 'saved' : 'fault'}>
        {written !== undefined && sayWritten(written)}
      </p>
      {written?.kind === 'odd' && (
        <button type="button" onClick={meant}>
          {t('again')}
        </button>
      )}
      {written?.kind === 'offline' && (
        <button type="button" onClick={repeat}>
          {t('try-again')}
        </button>
      )}
    </>
  );
}

/** Whether the staff stands for it, or the line looks at it once. */
function Standing({ known }: { known: Car['known']['value']['facts'][number] | undefined }) {
  if (known === undefined) return null;
  return <p class="standing">{known.isConfirmed ? t('confirmed') : t('unconfirmed')}</p>;
}

interface InputProps {
  id: string;
  asked: Asked;
  value: string | number | boolean | undefined;
  save(value: Write['value']): void;
  refuse(why: Written): void;
}

function Input({ id, asked: { question }, value, save, refuse }: InputProps) {
  const { answer, field } = question;
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
        value={value === undefined ? '' : shown(value)}
        onChange={(event) => {
          const typed = event.currentTarget.value.trim();
          const read = answer.kind === 'number' ? readNumber(typed) : typed;
          if (typed === '') save(null);
          else if (read === undefined) refuse({ kind: 'refused', says: t('no-number') });
          else save(read);
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

/** A photo of the stamp, where the declaration has a place to keep it. */
function Photo({ car, asked, done }: { car: Car; asked: Asked; done(how: Written): void }) {
  const item = PHOTO_OF[asked.question.field];
  const [path = ''] = asked.paths;
  const position = path.split('.')[1];
  if (item === undefined || position === undefined || car.session.entryId === undefined) return null;
  const value = factsOf(car.known.value)[path];
  const send = async (file: File): Promise<void> => {
    try {
      const photoId = await car.sendPhoto(file, { item, position });
      if (photoId === undefined || value === undefined) return;
      done(await car.write({ paths: [path], value, origin: 'stamped', photoId }));
    } catch {
      done({ kind: 'refused', says: t('photo.failed') });
    }
  };
  return (
    <label class="button photo">
      {t('photo')}
      <input
        type="file"
        accept="image/jpeg,image/png,image/webp"
        class="unseen"
        onChange={(event) => {
          const file = event.currentTarget.files?.[0];
          if (file !== undefined) void send(file);
        }}
      />
    </label>
  );
}

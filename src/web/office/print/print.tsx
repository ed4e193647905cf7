import { useState } from 'preact/hooks';
import { getEventSheet, getInspectionSheet, listGate, type Sheet } from '../../api/operations.ts';
import { call } from '../../api/call.ts';
import { offerFile } from '../../shared/offer-file.ts';
import { currentLanguage, defineText } from '../../shared/text.ts';
import { Select } from '../parts/form.tsx';
import { type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Loaded, Panel, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import './print.css';

type Block = Sheet['blocks'][number];

/** Tables of more columns lie on their side, as in the PDF. */
const MOST_UPRIGHT = 5;

/** A sheet as it comes out of the printer. */
export function SheetView({ sheet, paper }: { sheet: Sheet; paper: 'a4' | 'letter' }) {
  const { title, about, made, cautions, blocks, language } = sheet;
  const isWide = blocks.some(({ columns }) => columns.length > MOST_UPRIGHT);
  return (
    <article class={`printed-sheet ${isWide ? `${paper}-wide` : paper}`} lang={language}>
      <h3>{title}</h3>
      <p>
        {about} · {made}
      </p>
      <div class="cautions">
        {cautions.map((caution) => (
          <p key={caution}>{caution}</p>
        ))}
      </div>
      {blocks.map((block, place) => (
        // Blocks have no other order than their own.
        <Part key={place} block={block} />
      ))}
    </article>
  );
}

function Part({ block: { heading, lines, columns, rows } }: { block: Block }) {
  return (
    <section>
      {heading !== undefined && <h4>{heading}</h4>}
      {lines.map((line, place) => (
        <p key={place} class={line === '' ? 'by-hand' : undefined}>
          {line}
        </p>
      ))}
      {columns.length > 0 && (
        <table>
          <thead>
            <tr>
              {columns.map((column) => (
                <th key={column.heading} scope="col">
                  {column.heading}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((row, place) => (
              <tr key={place}>
                {row.map((cell, at) =>
                  columns[at]?.strong === true ? (
                    <td key={at}>
                      <strong>{cell}</strong>
                    </td>
                  ) : (
                    <td key={at}>{cell}</td>
                  ),
                )}
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  );
}

/** Texts of what is printed, loaded with the part itself. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = text;

const SHEETS = ['line-list', 'gate-list', 'entries', 'rescue', 'end-of-day', 'inspection'] as const;
const PAPERS = ['a4', 'letter'] as const;
const ANSWERS = ['with', 'without'] as const;
type Paper = (typeof PAPERS)[number];

/** Which sheet of what, on which paper. */
interface Chosen {
  sheet: (typeof SHEETS)[number];
  paper: Paper;
  answers: (typeof ANSWERS)[number];
  entryId: string;
}

const PDF_MS = 60_000;

/** Reads the chosen sheet, as what is drawn here or as a file. */
async function read({ eventId, token }: OfficeContext, chosen: Chosen, format: 'json' | 'pdf', signal?: AbortSignal) {
  const { sheet, paper, answers, entryId } = chosen;
  const how = { token, timeoutMs: PDF_MS, ...(signal === undefined ? {} : { signal }) };
  if (sheet !== 'inspection') return call(getEventSheet, { params: { eventId, sheet }, query: { format, paper } }, how);
  return call(getInspectionSheet, { params: { entryId }, query: { format, paper, answers } }, how);
}

/** Sheets to look at, print and take along. */
export function Print({ office }: { office: OfficeContext }) {
  const { eventId, token } = office;
  const cars = useLoad(`print cars ${eventId}`, async (signal) => {
    const { body } = await call(listGate, { params: { eventId } }, { token, signal });
    return body?.entries ?? [];
  });
  return (
    <Loaded of={cars}>
      {(entries) => (
        <Choice
          office={office}
          cars={entries.map(({ entryId, carNumber, runGroup, vehicle }) => [
            entryId,
            `${carNumber}, ${runGroup}: ${vehicle}`,
          ])}
        />
      )}
    </Loaded>
  );
}

interface ChoiceProps {
  office: OfficeContext;
  cars: readonly (readonly [entryId: string, label: string])[];
}

function Choice({ office, cars }: ChoiceProps) {
  const first: Chosen = { sheet: 'line-list', paper: 'a4', answers: 'with', entryId: cars[0]?.[0] ?? '' };
  const [chosen, setChosen] = useState(first);
  const isOfCar = chosen.sheet === 'inspection';
  const pick =
    <K extends keyof Chosen>(name: K, among: readonly Chosen[K][]) =>
    (value: string) => {
      const next = among.find((one) => one === value);
      if (next !== undefined) setChosen({ ...chosen, [name]: next });
    };
  return (
    <>
      <Panel title={t('title')}>
        <p>{t('how')}</p>
        <div class="fields">
          <Select
            label={t('sheet')}
            value={chosen.sheet}
            onValue={pick('sheet', SHEETS)}
            options={SHEETS.map((one) => [one, t(`sheet.${one}`)])}
          />
          <Select
            label={t('paper')}
            value={chosen.paper}
            onValue={pick('paper', PAPERS)}
            options={PAPERS.map((one) => [one, t(`paper.${one}`)])}
          />
          {isOfCar && (
            <>
              <Select
                label={t('car')}
                value={chosen.entryId}
                onValue={(entryId) => setChosen({ ...chosen, entryId })}
                options={cars}
              />
              <Select
                label={t('answers')}
                value={chosen.answers}
                onValue={pick('answers', ANSWERS)}
                options={ANSWERS.map((one) => [one, t(`answers.${one}`)])}
              />
            </>
          )}
        </div>
      </Panel>
      {isOfCar && cars.length === 0 ? <p class="notice look">{t('none')}</p> : <Preview {...{ office, chosen }} />}
    </>
  );
}

function Preview({ office, chosen }: { office: OfficeContext; chosen: Chosen }) {
  const { sheet, entryId, answers } = chosen;
  const what = sheet === 'inspection' ? `${entryId} ${answers}` : office.eventId;
  const [trouble, setTrouble] = useState<Trouble>();
  const load = useLoad(`sheet ${sheet} ${what} ${currentLanguage()}`, async (signal) => {
    return (await read(office, chosen, 'json', signal)).body;
  });
  const take = async (): Promise<void> => {
    setTrouble(undefined);
    try {
      const { body, headers } = await read(office, chosen, 'pdf');
      const name = /filename="([^"]+)"/.exec(headers.get('content-disposition') ?? '')?.[1] ?? `${sheet}.pdf`;
      // Asked for as a PDF it comes as a file; the description of the API names the other form.
      offerFile(body as unknown as Blob, name);
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  return (
    <Panel title={t('preview')}>
      <div class="row">
        <button type="button" class="primary" onClick={() => print()}>
          {t('print')}
        </button>
        <button type="button" onClick={() => void take()}>
          {t('pdf')}
        </button>
        <button type="button" onClick={load.reload}>
          {t('again')}
        </button>
      </div>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <Loaded of={load}>{(shown: Sheet) => <SheetView sheet={shown} paper={chosen.paper} />}</Loaded>
    </Panel>
  );
}

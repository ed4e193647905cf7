import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { KeptCalculation } from '../api/operations.ts';
import { currentLanguage } from '../shared/text.ts';
import { ask, type Asked } from './ask.ts';
import { Fields, idOf } from './fields.tsx';
import { type Form, formOf, say } from './forms.ts';
import { Keep } from './keep.tsx';
import { NotWorked, ResultView } from './result.tsx';
import { text } from './text.ts';
import { bodyOf, draftOf, type Drafts, type Faults } from './values.ts';
import { WhatIf } from './what-if.tsx';

const { t } = text;

export interface Props {
  name: string;
  token: string;
  /** what is known of the car, or what was kept */
  known: Readonly<Record<string, unknown>>;
  vehicleId: string | undefined;
  kept: KeptCalculation | undefined;
  back(): void;
}

/** One computation: what it is asked, what comes out, what if, and keeping it. */
export function CalculationView(props: Props): JSX.Element {
  const form = formOf(props.name);
  if (form === undefined) return <p class="notice bad">{t('unknown')}</p>;
  return <Asking {...props} form={form} />;
}

/** What stands in the form, and what came of it. */
function useAsking(name: string, form: Form, { token, known, kept }: Pick<Props, 'token' | 'known' | 'kept'>) {
  const [drafts, setDrafts] = useState<Drafts>(() => draftOf(form.form, known, currentLanguage()));
  /** another beginning is another form: what is folded away is decided anew */
  const [round, setRound] = useState(0);
  const [faults, setFaults] = useState<Faults>({});
  const [asked, setAsked] = useState<Asked | undefined>(undefined);
  const [isBusy, setBusy] = useState(false);
  const work = async (): Promise<void> => {
    const read = bodyOf(form.form, drafts);
    setFaults(read.ok ? {} : read.faults);
    if (!read.ok) {
      setAsked(undefined);
      const [first = ''] = Object.keys(read.faults);
      document.getElementById(idOf(first))?.focus();
      return;
    }
    setBusy(true);
    setAsked(await ask(name, read.body, token));
    setBusy(false);
  };
  const begin = (body: Readonly<Record<string, unknown>>): void => {
    setDrafts(draftOf(form.form, body, currentLanguage()));
    setRound(round + 1);
    setFaults({});
    setAsked(undefined);
  };
  useEffect(() => {
    // What was kept is shown with its result at once.
    if (kept !== undefined) void work();
  }, []);
  return { drafts, setDrafts, round, faults, asked, isBusy, work, begin };
}

function Asking(props: Props & { form: Form }): JSX.Element {
  const { name, token, vehicleId, kept, back, form } = props;
  const { drafts, setDrafts, round, faults, asked, isBusy, work, begin } = useAsking(name, form, props);
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    if (asked?.kind === 'worked' && kept === undefined) heading.current?.focus();
  }, [asked]);
  return (
    <div class="stack">
      <Head form={form} isPrefilled={kept === undefined && Object.keys(props.known).length > 0} back={back} />
      <form
        class="panel stack"
        noValidate
        onSubmit={(event) => {
          event.preventDefault();
          void work();
        }}
      >
        <Fields
          key={round}
          {...{ fields: form.form, draft: drafts, at: '' }}
          wrong={{ faults, refused: asked?.kind === 'refused' ? asked.refused : {} }}
          change={(next) => setDrafts(next as Drafts)}
        />
        <div class="row no-print">
          <button type="submit" class="primary" aria-disabled={isBusy}>
            {t('work')}
          </button>
          <button type="button" onClick={() => begin(form.example)}>
            {t('example')}
          </button>
        </div>
      </form>
      <div role="alert">
        {Object.keys(faults).length > 0 && (
          <p class="notice bad">{t('faults', { count: Object.keys(faults).length })}</p>
        )}
        {asked !== undefined && asked.kind !== 'worked' && <NotWorked asked={asked} />}
      </div>
      {asked?.kind === 'worked' && (
        <>
          <section class="panel stack" aria-labelledby="result">
            <h3 id="result" tabIndex={-1} ref={heading}>
              {t('result')}
            </h3>
            <ResultView worked={asked.worked} body={asked.body} />
          </section>
          <WhatIf {...{ name, drafts, asked, token }} />
          {vehicleId !== undefined && (
            <Keep key={JSON.stringify(asked.body)} {...{ vehicleId, token, name, body: asked.body, kept }} />
          )}
        </>
      )}
    </div>
  );
}

function Head({ form, isPrefilled, back }: { form: Form; isPrefilled: boolean; back(): void }): JSX.Element {
  return (
    <>
      <p class="no-print">
        <button type="button" onClick={back}>
          {t('back')}
        </button>
      </p>
      <h2>{say(form.title)}</h2>
      <p>{say(form.summary)}</p>
      {isPrefilled && <p class="notice">{t('prefilled')}</p>}
    </>
  );
}

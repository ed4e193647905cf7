import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { KeptCalculation } from '../api/operations.ts';
import { currentLanguage } from '../shared/text.ts';
import { words } from '../shared/words.ts';
import { ask, type Asked } from './ask.ts';
import { Fields, idOf } from './fields.tsx';
import { type Form, formOf, say } from './forms.ts';
import { Keep } from './keep.tsx';
import { ResultView } from './result.tsx';
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

function Asking({ name, token, known, vehicleId, kept, back, form }: Props & { form: Form }): JSX.Element {
  const language = currentLanguage();
  const [drafts, setDrafts] = useState<Drafts>(() => draftOf(form.form, known, language));
  /** another beginning is another form: what is folded away is decided anew */
  const [round, setRound] = useState(0);
  const [faults, setFaults] = useState<Faults>({});
  const [asked, setAsked] = useState<Asked | undefined>(undefined);
  const [isBusy, setBusy] = useState(false);
  const heading = useRef<HTMLHeadingElement>(null);
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
  useEffect(() => {
    // What was kept is shown with its result at once.
    if (kept !== undefined) void work();
  }, []);
  useEffect(() => {
    if (asked?.kind === 'worked' && kept === undefined) heading.current?.focus();
  }, [asked]);
  const refused = asked?.kind === 'refused' ? asked.refused : {};
  const isKnown = Object.keys(known).length > 0;
  return (
    <div class="stack">
      <p class="no-print">
        <button type="button" onClick={back}>
          {t('back')}
        </button>
      </p>
      <h2>{say(form.title)}</h2>
      <p>{say(form.summary)}</p>
      {isKnown && kept === undefined && <p class="notice">{t('prefilled')}</p>}
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
          {...{ fields: form.form, draft: drafts, at: '', wrong: { faults, refused } }}
          change={(next) => setDrafts(next as Drafts)}
        />
        <div class="row no-print">
          <button type="submit" class="primary" aria-disabled={isBusy}>
            {t('work')}
          </button>
          <button
            type="button"
            onClick={() => {
              setDrafts(draftOf(form.form, form.example, language));
              setRound(round + 1);
              setFaults({});
              setAsked(undefined);
            }}
          >
            {t('example')}
          </button>
        </div>
      </form>
      <div role="alert">
        {Object.keys(faults).length > 0 && (
          <p class="notice bad">{t('faults', { count: Object.keys(faults).length })}</p>
        )}
        {asked?.kind === 'no-network' && <p class="notice bad">{words.t('network.none')}</p>}
        {asked?.kind === 'refused' && (
          <p class="notice bad">
            {t('refused')} <span lang="en">{asked.says}</span>
          </p>
        )}
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

import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type ExplanationView, explainFinding } from '../../api/operations.ts';
import { useGarage } from '../context.ts';
import { currentLanguage } from '../../shared/text.ts';
import { positionName } from './say.ts';
import { text } from './text.ts';

const { t } = text;

/** How a rule came to its finding, fetched when somebody asks. */
export function Explanation({ inspectionId, ruleId, title }: { inspectionId: string; ruleId: string; title: string }) {
  const { declaration } = useGarage();
  const [told, setTold] = useState<ExplanationView | 'asking' | 'failed' | undefined>(undefined);
  const ask = async (): Promise<void> => {
    setTold('asking');
    try {
      const params = { inspectionId, ruleId };
      setTold((await call(explainFinding, { params }, { token: declaration.session.token })).body);
    } catch {
      // Without an answer the person sees that there is none, and may ask again.
      setTold('failed');
    }
  };
  return (
    <>
      <button type="button" aria-expanded={typeof told === 'object'} onClick={() => void ask()}>
        {t('explain')} <span class="unseen">{title}</span>
      </button>
      <div class="explanation" role="status">
        {told === 'asking' && t('explain.asking')}
        {told === 'failed' && t('explain.failed')}
        {typeof told === 'object' && <Told told={told} />}
      </div>
    </>
  );
}

function Told({ told }: { told: ExplanationView }) {
  const { basis } = told.rule;
  const wrong = told.positions.filter(({ finding }) => finding.result !== 'met');
  return (
    <div class="notice stack">
      <p>{told.rule.text}</p>
      {(wrong.length > 0 ? wrong : told.positions).map((one) => (
        <div key={one.position ?? ''} class="stack">
          <p>
            {one.position !== undefined && <strong>{positionName(one.position)}: </strong>}
            {one.inWords}
          </p>
          {one.certainty !== undefined && <p class="soft">{certaintyText(one.certainty)}</p>}
          <RestsOn facts={one.facts} />
        </div>
      ))}
      <p class="soft">
        {basis.kind === 'published' ? t('basis.published', { source: basis.source }) : t('basis.common')}
      </p>
    </div>
  );
}

type Position = ExplanationView['positions'][number];

/** How good the reading is, and how likely the true value is inside. */
function certaintyText({ uncertainty, unit, instrument, guardBand, conformity }: NonNullable<Position['certainty']>) {
  const amount = (value: number): string => `${value.toLocaleString(currentLanguage())} ${unit}`;
  // never 100 % for what is only nearly sure, nor 0 %
  const percent = Math.min(99.9, Math.max(0.1, Math.round(conformity * 1000) / 10));
  const said = t('explain.sure', {
    instrument,
    spread: amount(uncertainty),
    percent: percent.toLocaleString(currentLanguage()),
  });
  return guardBand === 0 ? said : `${said} ${t('explain.guard', { guard: amount(guardBand) })}`;
}

/** What a forecast was worked out from. */
function RestsOn({ facts }: { facts: Position['facts'] }) {
  const lines = facts.flatMap(({ restsOn }) => restsOn ?? []);
  if (lines.length === 0) return null;
  return (
    <details>
      <summary>{t('explain.restsOn')}</summary>
      <ul>
        {lines.map((line) => (
          <li key={line}>{line}</li>
        ))}
      </ul>
    </details>
  );
}

import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type ExplanationView, explainFinding } from '../../api/operations.ts';
import { useGarage } from '../context.ts';
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
      {(wrong.length > 0 ? wrong : told.positions).map(({ position, inWords }) => (
        <p key={position ?? ''}>
          {position !== undefined && <strong>{positionName(position)}: </strong>}
          {inWords}
        </p>
      ))}
      <p class="soft">
        {basis.kind === 'published' ? t('basis.published', { source: basis.source }) : t('basis.common')}
      </p>
    </div>
  );
}

import { call } from '../../api/call.ts';
import { getTrial, type Trial } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { text } from '../text.ts';
import { Comparison } from './comparison.tsx';
import { Progress } from './progress.tsx';
import { useTask } from './use-task.ts';

const { t } = text;

/** One trial: how far it is, then what it found. */
export function TrialView({ trialId, desk }: { trialId: string; desk: Desk }) {
  const load = useTask<Trial>(`trial ${trialId}`, async (signal) => {
    return (await call(getTrial, { params: { trialId } }, { token: desk.token, signal })).body;
  });
  return (
    <div class="stack" data-trial={trialId}>
      <Loaded of={load}>
        {(trial) => (
          <>
            <h4>
              {trial.tried.version === undefined
                ? t('trial.draft')
                : t('rules.version', { version: trial.tried.version })}
            </h4>
            <Progress {...trial} />
            {trial.result !== undefined && (
              <>
                <Comparison result={trial.result} />
                <NotApplied list={trial.result.notApplied} />
              </>
            )}
          </>
        )}
      </Loaded>
    </div>
  );
}

function NotApplied({ list }: { list: NonNullable<Trial['result']>['notApplied'] }) {
  if (list.length === 0) return null;
  return (
    <details>
      <summary>{t('trial.notApplied', { count: list.length })}</summary>
      <ul>
        {list.map(({ runGroup, from, pointer, detail }, index) => (
          <li key={index}>
            {runGroup}, {t(`origin.${from}`)}: <code>{pointer}</code> {detail}
          </li>
        ))}
      </ul>
    </details>
  );
}

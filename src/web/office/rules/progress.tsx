import { text } from '../text.ts';

const { t } = text;

interface ProgressProps {
  state: 'waiting' | 'running' | 'done' | 'failed';
  done: number;
  total: number | null;
  error?: string;
}

/** How far work of the server is. */
export function Progress({ state, done, total, error }: ProgressProps) {
  return (
    <>
      <p role="status" data-state={state}>
        {t(`task.${state}`)} {total !== null && t('task.of', { done, all: total })}
      </p>
      {state === 'running' && total !== null && (
        <progress value={done} max={Math.max(1, total)} aria-label={t('task.running')} />
      )}
      {error !== undefined && (
        <p class="notice bad" role="alert">
          {error}
        </p>
      )}
    </>
  );
}

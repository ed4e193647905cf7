import { leave } from '../../shared/access.tsx';
import { words } from '../../shared/words.ts';
import type { Trouble } from './trouble.ts';

/** Why something did not work: in one sentence, then every fault. */
export function TroubleBox({ trouble }: { trouble: Trouble }) {
  const { message, faults, status } = trouble;
  const said = faults.filter(({ detail }) => detail !== message);
  return (
    <div class="notice bad stack" role="alert" tabIndex={-1}>
      <p>{message}</p>
      {said.length > 0 && (
        <ul>
          {said.map(({ pointer, detail }) => (
            <li key={`${pointer} ${detail}`}>
              <code>{pointer}</code> {detail}
            </li>
          ))}
        </ul>
      )}
      {status === 401 && (
        <div class="row">
          <button type="button" onClick={() => leave('office')}>
            {words.t('session.leave')}
          </button>
        </div>
      )}
    </div>
  );
}

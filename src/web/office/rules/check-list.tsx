import { TroubleBox } from '../parts/trouble-box.tsx';
import { text } from '../text.ts';
import type { Checked } from './use-check.ts';

const { t } = text;
const MOST = 50;

interface CheckListProps {
  checked: Checked;
  onJump(line: number, column: number): void;
}

/** What the check found, as a list with a way to each place. */
export function CheckList({ checked: { check, pending, trouble }, onJump }: CheckListProps) {
  const faults = check?.faults ?? [];
  const warnings = check?.warnings ?? [];
  const found = [...faults.map((one) => ({ ...one, bad: true })), ...warnings.map((one) => ({ ...one, bad: false }))];
  const shown = found.slice(0, MOST);
  const more = countOf(check) - shown.length;
  return (
    <div class="stack" aria-busy={pending}>
      <p role="status" class={`notice ${tone(check?.ok, warnings.length)}`}>
        {pending || check === undefined ? t('check.pending') : sentence(check)}
      </p>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <ul class="plain faults">
        {shown.map(({ pointer, detail, place, bad }, index) => (
          <li key={index} data-line={place?.line}>
            {place !== undefined && (
              <button type="button" onClick={() => onJump(place.line, place.column)}>
                {t('check.jump', { line: place.line, column: place.column })}
              </button>
            )}
            <span>
              <strong>{bad ? t('check.fault') : t('check.warning')}</strong> <code>{pointer}</code> {detail}
            </span>
          </li>
        ))}
      </ul>
      {more > 0 && <p>{t('check.more', { count: more })}</p>}
    </div>
  );
}

type Check = NonNullable<Checked['check']>;

/** All that was found, also what the answer does not list. */
function countOf(check: Check | undefined): number {
  if (check === undefined) return 0;
  return check.faults.length + check.moreFaults + check.warnings.length + check.moreWarnings;
}

function sentence({ ok, faults, moreFaults, warnings, moreWarnings }: Check): string {
  const said = ok ? t('check.ok') : t('check.faults', { count: faults.length + moreFaults });
  const count = warnings.length + moreWarnings;
  return `${said} ${count > 0 ? t('check.warnings', { count }) : ''}`;
}

function tone(ok: boolean | undefined, warnings: number): string {
  if (ok === undefined) return '';
  if (!ok) return 'bad';
  return warnings > 0 ? 'look' : 'good';
}

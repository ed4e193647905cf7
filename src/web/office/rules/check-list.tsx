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
  return (
    <div class="stack" aria-busy={pending}>
      <p role="status" class={`notice ${tone(check?.ok, warnings.length)}`}>
        {pending || check === undefined
          ? t('check.pending')
          : `${check.ok ? t('check.ok') : t('check.faults', { count: faults.length })} ${
              warnings.length > 0 ? t('check.warnings', { count: warnings.length }) : ''
            }`}
      </p>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <ul class="plain faults">
        {found.slice(0, MOST).map(({ pointer, detail, place, bad }, index) => (
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
      {found.length > MOST && <p>{t('check.more', { count: found.length - MOST })}</p>}
    </div>
  );
}

function tone(ok: boolean | undefined, warnings: number): string {
  if (ok === undefined) return '';
  if (!ok) return 'bad';
  return warnings > 0 ? 'look' : 'good';
}

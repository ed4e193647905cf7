import { useLoad } from './use-load.ts';
import { words } from '../../shared/words.ts';

/** Light modules around the symbol, ISO/IEC 18004 section 5.3.8 (4; from memory). */
const QUIET = 4;

/** A text as a QR code, black on white in both themes, so that every camera reads it. */
export function Qr({ value, name }: { value: string; name: string }) {
  const { data } = useLoad(`qr ${value}`, () => drawn(value));
  if (data === undefined) return <p role="status">{words.t('loading')}</p>;
  const side = data.size + 2 * QUIET;
  return (
    <svg class="qr" role="img" aria-label={name} viewBox={`0 0 ${side} ${side}`} data-text={value}>
      <rect width={side} height={side} fill="#fff" />
      <path d={data.path} fill="#000" />
    </svg>
  );
}

/** The dark modules as one path, row by row. */
async function drawn(value: string): Promise<{ size: number; path: string }> {
  const { create } = await import('qrcode');
  const { modules } = create(value, { errorCorrectionLevel: 'M' });
  const { size } = modules;
  const steps: string[] = [];
  for (let row = 0; row < size; row += 1) {
    for (let column = 0; column < size; column += 1) {
      if (modules.get(row, column) !== 0) steps.push(`M${column + QUIET} ${row + QUIET}h1v1h-1z`);
    }
  }
  return { size, path: steps.join('') };
}

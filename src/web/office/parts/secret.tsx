import { useEffect, useRef, useState } from 'preact/hooks';
import { words } from '../../shared/text.ts';
import { text } from '../text.ts';
import { useLoad } from './office-context.ts';

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

const { t } = text;

interface SecretProps {
  title: string;
  value: string;
  caution: string;
  onClose(): void;
}

/** A link that is a key, shown once: to be scanned, or copied. */
export function Secret({ title, value, caution, onClose }: SecretProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  const [copied, setCopied] = useState('');
  useEffect(() => heading.current?.focus(), [value]);
  const copy = (): void => {
    navigator.clipboard.writeText(value).then(
      () => setCopied(t('secret.copied')),
      () => setCopied(t('secret.notCopied')),
    );
  };
  return (
    <div class="secret stack">
      <h4 ref={heading} tabIndex={-1}>
        {title}
      </h4>
      <Qr value={value} name={t('secret.qr', { title })} />
      <p>
        <code class="key">{value}</code>
      </p>
      <p class="notice look">{caution}</p>
      <div class="row no-print">
        <button type="button" class="primary" onClick={copy}>
          {t('secret.copy')}
        </button>
        <button type="button" onClick={onClose}>
          {t('secret.close')}
        </button>
      </div>
      <p role="status" class={copied === '' ? 'unseen' : ''}>
        {copied}
      </p>
    </div>
  );
}

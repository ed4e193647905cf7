import { useEffect, useRef, useState } from 'preact/hooks';
import { text } from '../text.ts';
import { Qr } from './qr.tsx';

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

import { useId, useState } from 'preact/hooks';
import { importText } from './text.ts';

const { t } = importText;

/** A file, chosen or dropped. */
export function DropFile({ onFile }: { onFile(file: File): void }) {
  const id = useId();
  const [over, setOver] = useState(false);
  const [name, setName] = useState('');
  const take = (file: File | undefined): void => {
    if (file === undefined) return;
    setName(file.name);
    onFile(file);
  };
  return (
    <div
      class={`field drop ${over ? 'over' : ''}`}
      onDragOver={(event) => {
        event.preventDefault();
        setOver(true);
      }}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault();
        setOver(false);
        take(event.dataTransfer?.files[0]);
      }}
    >
      <label for={id}>{t('import.file')}</label>
      <span class="soft">{t('import.drop')}</span>
      <input
        id={id}
        type="file"
        accept=".csv,.txt,.tsv,.xlsx,text/csv,text/plain"
        onChange={({ currentTarget }) => take(currentTarget.files?.[0])}
      />
      {name !== '' && <span>{name}</span>}
    </div>
  );
}

/** The bytes of a file as base64, as they are: the server finds out what they are written in. */
export function base64Of(file: File): Promise<string> {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    // A data address: what stands after the comma is the file.
    reader.addEventListener('load', () =>
      resolve(typeof reader.result === 'string' ? (reader.result.split(',', 2)[1] ?? '') : ''),
    );
    reader.addEventListener('error', () => reject(reader.error ?? new Error('not readable')));
    reader.readAsDataURL(file);
  });
}

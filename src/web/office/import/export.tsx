import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type Exports, exportTable, listExports } from '../../api/operations.ts';
import { offerFile } from '../../shared/offer-file.ts';
import { type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Check, Form, Select } from '../parts/form.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { importText } from './text.ts';

const { t } = importText;

type Exported = Exports['tables'][number];

/** Tables to take along, with the columns that are chosen. */
export function Export({ office }: { office: OfficeContext }) {
  const { eventId, token } = office;
  const load = useLoad(`exports ${eventId}`, async (signal) => {
    return (await call(listExports, { params: { eventId } }, { token, signal })).body.tables;
  });
  return (
    <Panel title={t('export.title')}>
      <p>{t('export.how')}</p>
      <Loaded of={load}>{(tables) => <Choice tables={tables} office={office} />}</Loaded>
    </Panel>
  );
}

const usualOf = (table: Exported | undefined): string[] =>
  (table?.columns ?? []).flatMap(({ name, usual }) => (usual ? name : []));

async function download(
  { eventId, token }: OfficeContext,
  kind: Exported['kind'],
  query: { format: 'csv' | 'xlsx'; columns: string },
): Promise<void> {
  const { body, headers } = await call(
    exportTable,
    { params: { eventId, table: kind }, query },
    { token, timeoutMs: 60_000 },
  );
  const name = /filename="([^"]+)"/.exec(headers.get('content-disposition') ?? '')?.[1] ?? `${kind}.${query.format}`;
  offerFile(body, name);
}

function Choice({ tables, office }: { tables: readonly Exported[]; office: OfficeContext }) {
  const [kind, setKind] = useState<Exported['kind']>('entries');
  const [format, setFormat] = useState<'csv' | 'xlsx'>('csv');
  const table = tables.find((one) => one.kind === kind);
  const [chosen, setChosen] = useState(usualOf(table));
  const columns = (table?.columns ?? []).map(({ name }) => name);
  const send = (): Promise<void> =>
    download(office, kind, { format, columns: columns.filter((name) => chosen.includes(name)).join(',') });
  return (
    <Form label={t('export.title')} submit={t('export.download')} disabled={chosen.length === 0} onSend={send}>
      <div class="fields">
        <Select
          label={t('export.what')}
          value={kind}
          onValue={(value) => {
            const next = tables.find((one) => one.kind === value);
            if (next === undefined) return;
            setKind(next.kind);
            setChosen(usualOf(next));
          }}
          options={tables.map((one) => [one.kind, t(`export.what.${one.kind}`)])}
        />
        <Select
          label={t('export.format')}
          value={format}
          onValue={(value) => setFormat(value === 'xlsx' ? 'xlsx' : 'csv')}
          options={[
            ['csv', 'CSV'],
            ['xlsx', 'Excel (.xlsx)'],
          ]}
        />
      </div>
      <details>
        <summary>{t('export.columns')}</summary>
        <div class="row">
          <button type="button" onClick={() => setChosen(usualOf(table))}>
            {t('export.usual')}
          </button>
          <button type="button" onClick={() => setChosen(columns)}>
            {t('export.all')}
          </button>
        </div>
        <div class="fields">
          {columns.map((name) => (
            <Check
              key={name}
              label={name}
              checked={chosen.includes(name)}
              onChecked={(on) => setChosen((old) => (on ? [...old, name] : old.filter((one) => one !== name)))}
            />
          ))}
        </div>
      </details>
    </Form>
  );
}

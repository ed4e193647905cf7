import type { EntryView } from '../../api/operations.ts';
import { Fact } from '../overview/forecast.tsx';
import { Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;
const ROLES = ['driver', 'crew', 'preparer'] as const;

/** Who is named on the entry; address and telephone where the server tells them. */
export function People({ entry, onEdit }: { entry: EntryView; onEdit: (() => void) | undefined }) {
  const { entrant, people } = entry;
  return (
    <Panel title={t('people.title')}>
      <dl class="facts">
        <Fact name={t('entrant.name')} value={entrant.name} />
        {entrant.email !== undefined && <Fact name={t('entrant.email')} value={entrant.email} />}
        {entrant.phone !== undefined && <Fact name={t('entrant.phone')} value={entrant.phone} />}
        {people.map(({ name, role }) => (
          <Fact key={`${role} ${name}`} name={roleName(role)} value={name} />
        ))}
      </dl>
      {onEdit !== undefined && (
        <div class="row">
          <button type="button" onClick={onEdit}>
            {t('entry.edit')}
          </button>
        </div>
      )}
    </Panel>
  );
}

function roleName(role: string): string {
  const known = ROLES.find((one) => one === role);
  return known === undefined ? role : t(`person.${known}`);
}

/** The record of the car as it is kept, by the names that the API and the CSV file use. */
export function VehicleRecord({ entry }: { entry: EntryView }) {
  return (
    <Panel title={t('vehicle.title')}>
      {entry.shared && <p class="notice">{t('vehicle.shared')}</p>}
      <p>
        <strong>
          {[entry.vehicle['description'], entry.vehicle['colour']]
            .filter((part) => typeof part === 'string')
            .join(', ')}
        </strong>
      </p>
      <details>
        <summary>{t('vehicle.record')}</summary>
        <dl class="facts">
          {leavesOf(entry.vehicle).map(([name, value]) => (
            <Fact key={name} name={name} value={value} />
          ))}
        </dl>
      </details>
    </Panel>
  );
}

function leavesOf(record: Readonly<Record<string, unknown>>, prefix = ''): readonly (readonly [string, string])[] {
  return Object.entries(record).flatMap(([name, value]) =>
    typeof value === 'object' && value !== null
      ? leavesOf(value as Record<string, unknown>, `${prefix}${name}.`)
      : [[`${prefix}${name}`, String(value)] as const],
  );
}

import { useGroups } from '../entries/use-groups.ts';
import type { Desk } from '../parts/desk.ts';
import { Link } from '../parts/link.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;

/** The run groups of the event, each a way to the rules that judge it. */
export function GroupList({ desk }: { desk: Desk }) {
  const groups = useGroups(desk);
  return (
    <Panel title={t('rules.groups')}>
      <Loaded of={groups}>
        {(list) => (
          <ul class="plain">
            {list.map(({ runGroupId, name, ruleSetVersion }) => (
              <li key={runGroupId}>
                <Link to={{ section: 'rules', group: runGroupId }} class="car">
                  <strong>{name}</strong> {t('rules.version', { version: ruleSetVersion })}
                </Link>
              </li>
            ))}
          </ul>
        )}
      </Loaded>
    </Panel>
  );
}

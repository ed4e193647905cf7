import { call } from '../../api/call.ts';
import { getEvent } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { useLoad } from '../parts/use-load.ts';
import { useGroups } from '../entries/use-groups.ts';
import { text } from '../text.ts';
import { EventForm } from './event-form.tsx';
import { GroupForm } from './group-form.tsx';

const { t } = text;

/** Dates and window of the event, and when its groups first go on track. */
export function EventSection({ desk }: { desk: Desk }) {
  const { eventId, token } = desk;
  const load = useLoad(`event ${eventId}`, async (signal) => {
    const { body, etag } = await call(getEvent, { params: { eventId } }, { token, signal });
    return { event: body, etag };
  });
  const groups = useGroups(desk);
  return (
    <>
      <Panel title={t('event.basics')}>
        <Loaded of={load}>{({ event, etag }) => <EventForm {...{ event, etag, desk }} onSaved={load.reload} />}</Loaded>
      </Panel>
      <Panel title={t('event.groups')}>
        <Loaded of={groups}>
          {(list) => list.map((group) => <GroupForm key={group.runGroupId} first={group} desk={desk} />)}
        </Loaded>
      </Panel>
    </>
  );
}

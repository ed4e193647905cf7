import { call } from '../../api/call.ts';
import { getRunGroup, type RunGroupView } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { MoveRules } from './move-rules.tsx';
import { Rejudge } from './rejudge.tsx';
import { Resolved } from './resolved.tsx';

const { t } = text;

export interface GroupRead {
  group: RunGroupView;
  etag: string | undefined;
}

/** The rules of one run group: what they are, moving to others, judging anew. */
export function GroupRules({ runGroupId, desk }: { runGroupId: string; desk: Desk }) {
  const { eventId, token } = desk;
  const load = useLoad<GroupRead>(`group ${runGroupId}`, async (signal) => {
    const { body, etag } = await call(getRunGroup, { params: { eventId, runGroupId } }, { token, signal });
    return { group: body, etag };
  });
  const organizer = desk.session.role === 'organizer';
  return (
    <Loaded of={load}>
      {({ group, etag }) => (
        <>
          <h3>{group.name}</h3>
          <p>{t('rules.judgedBy', { version: group.ruleSetVersion })}</p>
          {organizer && <MoveRules {...{ group, etag, desk }} onMoved={load.reload} />}
          {organizer && <Rejudge key={group.rulesHash ?? ''} group={group} desk={desk} />}
          <Resolved runGroupId={runGroupId} desk={desk} at={load.at ?? 0} />
        </>
      )}
    </Loaded>
  );
}

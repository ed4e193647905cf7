import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { setTrack, type TrackView } from '../../api/operations.ts';
import { dayAndTime, type OfficeContext, say } from '../parts/office-context.ts';
import { Panel, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;

interface TrackProps {
  tracks: readonly TrackView[];
  office: OfficeContext;
  onSwitched(): void;
}

/** Rain: one tap says for a group that the track is wet, or dry again. What it does to the cars stands beside the button. */
export function Track({ tracks, office, onSwitched }: TrackProps) {
  const [busy, setBusy] = useState<string>();
  const [trouble, setTrouble] = useState<Trouble>();
  const send = async ({ runGroupId, wet }: TrackView): Promise<void> => {
    if (busy !== undefined) return;
    setBusy(runGroupId);
    setTrouble(undefined);
    try {
      const params = { eventId: office.eventId, runGroupId };
      const { body } = await call(setTrack, { params, body: { wet: !wet } }, { token: office.token });
      say(t(body.wet ? 'track.saidWet' : 'track.saidDry', { group: body.runGroup, count: body.stayIn }));
      onSwitched();
    } catch (error) {
      setTrouble(troubleOf(error));
    } finally {
      setBusy(undefined);
    }
  };
  return (
    <Panel title={t('track.title')}>
      <ul class="plain stack">
        {tracks.map((track) => (
          <Group
            key={track.runGroupId}
            of={track}
            zone={office.timeZone}
            busy={busy !== undefined}
            onSend={() => void send(track)}
          />
        ))}
      </ul>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
    </Panel>
  );
}

interface GroupProps {
  of: TrackView;
  zone: string;
  busy: boolean;
  onSend(): void;
}

function Group({ of, zone, busy, onSend }: GroupProps) {
  const { runGroup, wet, since, by, stayIn, wouldGo, cars } = of;
  return (
    <li class="row spread" data-track={wet ? 'wet' : 'dry'}>
      <span>
        <strong>{runGroup}</strong>{' '}
        {wet && since !== null ? t('track.wetSince', { time: dayAndTime(since, zone), who: by ?? '' }) : t('track.dry')}{' '}
        <span class="soft">{t(wet ? 'track.stayIn' : 'track.wouldStayIn', { count: stayIn, of: wouldGo })}</span>
        {cars.length > 0 && (
          <details>
            <summary>{t('track.which')}</summary>
            <ul>
              {cars.map(({ entryId, carNumber, reason }) => (
                <li key={entryId}>
                  <strong>{t('car', { number: carNumber })}</strong>: {reason}
                </li>
              ))}
            </ul>
          </details>
        )}
      </span>
      <button type="button" aria-disabled={busy} onClick={onSend}>
        {t(wet ? 'track.sayDry' : 'track.sayWet', { group: runGroup })}
      </button>
    </li>
  );
}

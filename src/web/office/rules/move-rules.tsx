import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  changeRunGroup,
  getRejudgement,
  listRuleSets,
  previewRunGroup,
  type RejudgementView,
  rejudgeRunGroup,
  type RunGroupChangesInput,
  type RunGroupPreview,
  type RunGroupView,
} from '../../api/operations.ts';
import { CarLink } from '../overview/holds.tsx';
import { type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Check, Form, Input, Select } from '../parts/form.tsx';
import { Loaded, Panel, Table } from '../parts/panel.tsx';
import { text } from '../text.ts';
import { Comparison } from './comparison.tsx';
import type { GroupRead } from './group-rules.tsx';
import { Progress, useTask } from './trials.tsx';

const { t } = text;

interface MoveProps extends GroupRead {
  office: OfficeContext;
  onMoved(): void;
}

/** Moving a group to another version: who would change is shown first, and only then it can be done. */
export function MoveRules({ group, etag, office, onMoved }: MoveProps) {
  const { eventId, token } = office;
  const params = { eventId, runGroupId: group.runGroupId };
  const { values, set } = useValues({ ruleSetId: group.ruleSetId, version: String(group.ruleSetVersion) });
  const [venue, setVenue] = useState(false);
  const [shown, setShown] = useState<{ changes: RunGroupChangesInput; preview: RunGroupPreview }>();
  const preview = async (): Promise<void> => {
    const changes: RunGroupChangesInput = {
      ruleSetId: values.ruleSetId,
      ruleSetVersion: Number(values.version),
      ...(venue ? { takeVenueRules: true } : {}),
    };
    setShown({ changes, preview: (await call(previewRunGroup, { params, body: changes }, { token })).body });
  };
  const chosen =
    <T,>(apply: (value: T) => void) =>
    (value: T): void => {
      apply(value);
      setShown(undefined);
    };
  return (
    <Panel title={t('move.title')}>
      <Form label={t('move.title')} submit={t('move.preview')} onSend={preview}>
        <Choice {...{ values, token }} set={(name) => chosen(set(name))} />
        <Check label={t('move.venue')} checked={venue} onChecked={chosen(setVenue)} />
      </Form>
      {shown !== undefined && (
        <Shown
          preview={shown.preview}
          onMove={async () => {
            const headers = etag === undefined ? {} : { 'if-match': etag };
            const body = { ...shown.changes, preview: shown.preview.preview };
            await call(changeRunGroup, { params, headers, body }, { token });
            say(t('move.done', { group: group.name }));
            setShown(undefined);
            onMoved();
          }}
        />
      )}
    </Panel>
  );
}

interface ChoiceProps {
  values: { ruleSetId: string; version: string };
  token: string;
  set(name: 'ruleSetId' | 'version'): (value: string) => void;
}

function Choice({ values, token, set }: ChoiceProps) {
  const sets = useLoad('rule sets to move to', async (signal) => {
    return (await call(listRuleSets, {}, { token, signal })).body.ruleSets;
  });
  return (
    <div class="fields">
      <Select
        label={t('move.ruleSet')}
        pointer="/ruleSetId"
        value={values.ruleSetId}
        onValue={set('ruleSetId')}
        options={(sets.data ?? []).map((one) => [one.ruleSetId, one.name])}
      />
      <Input
        label={t('move.version')}
        hint={t('move.newest', {
          version: (sets.data ?? []).find((one) => one.ruleSetId === values.ruleSetId)?.latestVersion ?? '–',
        })}
        inputMode="numeric"
        pointer="/ruleSetVersion"
        value={values.version}
        onValue={set('version')}
      />
    </div>
  );
}

/** Who would change; what can be done about it stands below. */
function Shown({ preview, onMove }: { preview: RunGroupPreview; onMove(): Promise<void> }) {
  return (
    <div class="stack" data-preview={preview.preview}>
      <h4>{t('move.would')}</h4>
      {preview.sameRules && <p class="notice">{t('move.same')}</p>}
      <Comparison result={preview} />
      <OnRejudgement of={preview} />
      {!preview.sameRules && (
        <Form label={t('move.send')} submit={t('move.send')} onSend={onMove}>
          <p>{t('move.how')}</p>
        </Form>
      )}
    </div>
  );
}

function OnRejudgement({ of }: { of: RunGroupPreview }) {
  const { judgedAnew, recalled, signedOff, refused } = of.onRejudgement;
  return (
    <>
      <p>{t('move.onRejudgement', { judgedAnew, recalled, signedOff, refused })}</p>
      <ul>
        {of.recalled.map(({ entryId, carNumber, because }) => (
          <li key={entryId}>
            <strong>{t('car', { number: carNumber })}</strong>: {because.map(({ message }) => message).join(' ')}
          </li>
        ))}
      </ul>
    </>
  );
}

/** Judges the cars of a group by the rules it has now, because the organizer orders it. */
export function Rejudge({ group, office }: { group: RunGroupView; office: OfficeContext }) {
  const [reason, setReason] = useState('');
  const [started, setStarted] = useState<string>();
  const { eventId, runGroupId, rulesHash } = group;
  if (rulesHash === null) return null;
  return (
    <Panel title={t('rejudge.title')}>
      <Form
        label={t('rejudge.title')}
        submit={t('rejudge.send')}
        onSend={async () => {
          const input = { params: { eventId, runGroupId }, body: { rulesHash, reason } };
          setStarted((await call(rejudgeRunGroup, input, { token: office.token })).body.rejudgementId);
        }}
      >
        <p>{t('rejudge.how')}</p>
        <Input label={t('rejudge.reason')} pointer="/reason" value={reason} onValue={setReason} />
      </Form>
      {started !== undefined && <Result key={started} rejudgementId={started} office={office} />}
    </Panel>
  );
}

function Result({ rejudgementId, office }: { rejudgementId: string; office: OfficeContext }) {
  const load = useTask<RejudgementView>(`rejudgement ${rejudgementId}`, async (signal) => {
    return (await call(getRejudgement, { params: { rejudgementId } }, { token: office.token, signal })).body;
  });
  return (
    <Loaded of={load}>
      {(view) => (
        <>
          <Progress {...view} />
          <Table
            caption={t('rejudge.result')}
            head={[t('carNumber'), t('rejudge.outcome'), t('compare.before'), t('compare.after'), t('report.reason')]}
          >
            {view.entries.map((entry) => (
              <tr key={entry.entryId}>
                <th scope="row">
                  <CarLink entryId={entry.entryId} carNumber={entry.carNumber} runGroup="" />
                </th>
                <td>{t(`rejudge.${entry.outcome}`)}</td>
                <td>{entry.before === undefined ? '' : t(`verdict.${entry.before}`)}</td>
                <td>{entry.after === undefined ? '' : t(`verdict.${entry.after}`)}</td>
                <td>{entry.reason ?? ''}</td>
              </tr>
            ))}
          </Table>
        </>
      )}
    </Loaded>
  );
}

import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { adoptBuiltInRules, getBuiltInRules, listRuleSets, type MintedToken, mintToken } from '../../api/operations.ts';
import { linkFor, LinkSheet } from '../access/link-sheet.tsx';
import { type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { Link } from '../parts/link.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { Qr } from '../parts/secret.tsx';
import { NewEntry } from '../entries/edit-entry.tsx';
import { startText } from './text.ts';
import type { StepProps } from './start.tsx';

const { t } = startText;

const ROLES = ['chief', 'inspector', 'marshal'] as const;
type StaffRole = (typeof ROLES)[number];

interface Person {
  role: StaffRole;
  name: string;
}

/** Common practice, no source: one who decides, two who inspect, so that nobody waits for the own car, one at the gate. */
const FIRST: readonly Person[] = [
  { role: 'chief', name: '' },
  { role: 'inspector', name: '' },
  { role: 'inspector', name: '' },
  { role: 'marshal', name: '' },
];

interface PeopleStepProps {
  office: OfficeContext;
  onSaved(): void;
}

/** Who works at the event: names, and for each a page to print with the link that lets them in. */
export function PeopleStep({ office, onSaved }: PeopleStepProps) {
  const [people, setPeople] = useState(FIRST);
  const [made, setMade] = useState<readonly MintedToken[]>([]);
  const change = (place: number, part: Partial<Person>): void =>
    setPeople((old) => old.map((one, at) => (at === place ? { ...one, ...part } : one)));
  const send = async (): Promise<void> => {
    let left = people;
    for (const person of people.filter(({ name }) => name.trim() !== '')) {
      const body = { role: person.role, holder: person.name.trim(), eventIds: [office.eventId] };
      const minted = await call(mintToken, { body }, { token: office.token });
      setMade((old) => [...old, minted.body]);
      // What was made does not happen twice when the next one fails.
      left = left.filter((one) => one !== person);
      setPeople(left);
    }
    setPeople([{ role: 'inspector', name: '' }]);
    say(t('people.made'));
    onSaved();
  };
  return (
    <>
      <Panel title={t('people.title')}>
        <p>{t('people.why')}</p>
        <Form label={t('people.title')} submit={t('people.make')} onSend={send}>
          {people.map(({ role, name }, place) => (
            // A row is known by its place until it is sent.
            <div key={place} class="fields" role="group" aria-label={t('people.nth', { number: place + 1 })}>
              <Select
                label={t('people.role')}
                value={role}
                onValue={(next) => change(place, { role: ROLES.find((one) => one === next) ?? role })}
                options={ROLES.map((one) => [one, t(`role.${one}`)])}
              />
              <Input
                label={t(role === 'marshal' ? 'people.device' : 'people.name')}
                pointer="/holder"
                value={name}
                onValue={(next) => change(place, { name: next })}
              />
            </div>
          ))}
          <div class="row">
            <button type="button" onClick={() => setPeople([...people, { role: 'inspector', name: '' }])}>
              {t('people.add')}
            </button>
            <Link to={{ section: 'access' }} class="button">
              {t('people.all')}
            </Link>
          </div>
        </Form>
      </Panel>
      {made.length > 0 && <Sheets made={made} eventName={office.event.name} onClose={() => setMade([])} />}
    </>
  );
}

interface SheetsProps {
  made: readonly MintedToken[];
  eventName: string;
  onClose(): void;
}

/** One printed page for each; shown once, because the server keeps no link. */
function Sheets({ made, eventName, onClose }: SheetsProps) {
  return (
    <Panel title={t('sheets.title')}>
      <p class="notice look">{t('sheets.caution')}</p>
      <div class="row no-print">
        <button type="button" class="primary" onClick={() => print()}>
          {t('sheets.print')}
        </button>
        <button type="button" onClick={onClose}>
          {t('sheets.close')}
        </button>
      </div>
      <ul class="plain sheet pages">
        {made.map(({ tokenId, role, holder, token }) => (
          <li key={tokenId} data-role={role}>
            <p>
              <strong>{holder}</strong>
            </p>
            <p>
              {isStaff(role) && t(`role.${role}`)}, {eventName}
            </p>
            <Qr value={linkFor(role, token)} name={t('sheets.qr', { holder })} />
            <p>
              <code class="key">{linkFor(role, token)}</code>
            </p>
            <p>{isStaff(role) && t(`sheets.how.${role}`)}</p>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

const isStaff = (role: string): role is StaffRole => (ROLES as readonly string[]).includes(role);

interface EntriesStepProps {
  office: OfficeContext;
  onSaved(): void;
}

/** Who is entered: one by one here, a whole list by the import. */
export function EntriesStep({ office, onSaved }: EntriesStepProps) {
  const [round, setRound] = useState(0);
  const done = (): void => {
    setRound((count) => count + 1);
    onSaved();
  };
  return (
    <>
      <Panel title={t('entries.title')}>
        <p>{t('entries.why')}</p>
        <div class="row">
          <Link to={{ section: 'import' }} class="button primary">
            {t('entries.import')}
          </Link>
          <Link to={{ section: 'entries' }} class="button">
            {t('entries.all')}
          </Link>
        </div>
      </Panel>
      <NewEntry key={round} office={office} onDone={done} />
    </>
  );
}

/** The links with which entrants declare: made for a whole group, printed or copied. */
export function LinksStep({ office, onSaved }: EntriesStepProps) {
  return (
    <>
      <Panel title={t('links.title')}>
        <p>{t('links.why')}</p>
        <p class="notice look">{t('links.caution')}</p>
      </Panel>
      <LinkSheet office={office} onMinted={onSaved} />
    </>
  );
}

/** The rules: the set that comes with the server under a name of one's own, or one that is there. */
export function RulesStep({ token, event, onSaved }: StepProps) {
  const { values, set } = useValues({ name: t('rules.ownName', { year: new Date().getFullYear() }) });
  const load = useLoad('rules of the server', async (signal) => {
    const options = { token, signal };
    const [builtIn, sets] = await Promise.all([call(getBuiltInRules, {}, options), call(listRuleSets, {}, options)]);
    return { builtIn: builtIn.body, published: sets.body.ruleSets.filter((one) => one.latestVersion !== undefined) };
  });
  const send = async (): Promise<void> => {
    // All rules are checked against their examples before they are published.
    await call(adoptBuiltInRules, { body: values }, { token, timeoutMs: 120_000 });
    say(t('rules.adopted', { name: values.name }));
    load.reload();
    onSaved();
  };
  return (
    <Panel title={t('rules.title')}>
      <Loaded of={load}>
        {({ builtIn, published }) => (
          <>
            {published.length > 0 && (
              <ul class="plain">
                {published.map(({ ruleSetId, name, latestVersion }) => (
                  <li key={ruleSetId} class="row">
                    <span>{t('rules.there', { name, version: latestVersion ?? 0 })}</span>
                    {event !== undefined && (
                      <Link to={{ section: 'rules', ruleSet: ruleSetId }} class="button">
                        {t('rules.open', { name })}
                      </Link>
                    )}
                  </li>
                ))}
              </ul>
            )}
            <p>{t('rules.what', { rules: builtIn.rules, limits: builtIn.limits })}</p>
            <p class="notice look">{t('rules.caution')}</p>
            <Form label={t('rules.adopt')} submit={t('rules.adopt')} onSend={send}>
              <Input label={t('rules.name')} pointer="/name" value={values.name} onValue={set('name')} />
            </Form>
          </>
        )}
      </Loaded>
    </Panel>
  );
}

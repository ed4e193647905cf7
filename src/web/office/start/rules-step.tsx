import { call } from '../../api/call.ts';
import { adoptBuiltInRules, getBuiltInRules, listRuleSets } from '../../api/operations.ts';
import { say } from '../parts/office-context.ts';
import { Form, Input } from '../parts/form.tsx';
import { Link } from '../parts/link.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { useLoad, useValues } from '../parts/use-load.ts';
import type { StepProps } from './start.tsx';
import { startText } from './text.ts';

const { t } = startText;

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

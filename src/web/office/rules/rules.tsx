import type { Desk } from '../parts/desk.ts';
import { Link } from '../parts/link.tsx';
import { place } from '../parts/place.ts';
import { text } from '../text.ts';
import { GroupList } from './group-list.tsx';
import { GroupRules } from './group-rules.tsx';
import { RuleSetList } from './rule-set-list.tsx';
import { RuleSetPage } from './rule-set-page.tsx';

const { t } = text;

/** Rule sets of the organizer, and the rules that judge each group of the event. */
export function Rules({ desk }: { desk: Desk }) {
  const { ruleSet, group } = place.value;
  const organizer = desk.session.role === 'organizer';
  if (group !== undefined) {
    return (
      <>
        <Back />
        <GroupRules key={group} runGroupId={group} desk={desk} />
      </>
    );
  }
  if (ruleSet !== undefined && organizer) {
    return (
      <>
        <Back />
        <RuleSetPage key={ruleSet} ruleSetId={ruleSet} desk={desk} />
      </>
    );
  }
  return (
    <>
      <GroupList desk={desk} />
      {organizer && <RuleSetList desk={desk} />}
    </>
  );
}

function Back() {
  return (
    <p>
      <Link to={{ section: 'rules' }} class="button">
        {t('rules.back')}
      </Link>
    </p>
  );
}

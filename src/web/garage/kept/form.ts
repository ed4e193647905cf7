import type { DraftView, Finding, FormView as OwnForm, QuestionsView } from '../../api/operations.ts';

type OwnItem = OwnForm['items'][number];
type OwnFinding = OwnForm['findings'][number];

/** A rule as it judges an item of this car. */
type AskedRule = Pick<Finding, 'ruleId' | 'title' | 'effect' | 'position' | 'limit' | 'bounds'> & {
  /** the limit as one sentence; absent: the title says it */
  says?: NonNullable<QuestionsView['rules'][number]['says']>;
  /** the exception to it that is in force for this car */
  concession?: OwnForm['concessions'][number];
};

/** A question as it is asked of this car. */
export type FormItem = QuestionsView['items'][number] & OwnItem & { rules: readonly AskedRule[] };

/** The form of an entry, with what it shares with all cars of its run group. */
export type FormView = Omit<OwnForm, 'items' | 'findings'> & {
  /** those that have items here, in the order of a walk around the car */
  areas: QuestionsView['areas'];
  items: readonly FormItem[];
  /** what the rules say of the saved draft, in rule-set order */
  findings: readonly Finding[];
  /** the rules of the run group, in their order */
  ruleIds: readonly string[];
  /** a photo of the workshop sheet may stand for the answers about the underside */
  workshopSheet: boolean;
};

/** Brings both parts of a form together. @throws when they do not belong together */
export function joinForm(own: OwnForm, questions: QuestionsView): FormView {
  const rules = new Map(questions.rules.map((rule) => [rule.ruleId, rule]));
  const asked = new Map(questions.items.map((item) => [item.key, item]));
  const findings = own.findings.map((finding): Finding => {
    const { says: _, ...rule } = known(rules, finding.ruleId);
    return { message: '', fix: '', ...rule, ...finding };
  });
  const sayings = new Map(own.says.map((one) => [placeOf(one), one.says]));
  const saysOf = (finding: Finding) => {
    const other = sayings.get(placeOf(finding));
    return other === undefined ? known(rules, finding.ruleId).says : (other ?? undefined);
  };
  const areas = new Set(own.items.map(({ key }) => known(asked, key).area));
  return {
    ...own,
    areas: questions.areas.filter(({ area }) => areas.has(area)),
    items: own.items.map((item) => ({
      ...known(asked, item.key),
      ...item,
      rules: findings
        .filter(({ items }) => items.includes(item.key))
        .map((finding) => askedRule(finding, own, saysOf(finding))),
    })),
    findings,
    ruleIds: questions.rules.map(({ ruleId }) => ruleId),
    workshopSheet: questions.workshopSheet,
  };
}

function known<T>(all: ReadonlyMap<string, T>, name: string): T {
  const one = all.get(name);
  if (one === undefined) throw new Error(`The form names ${name}, which its questions do not have.`);
  return one;
}

function askedRule(
  { ruleId, title, effect, position, limit, bounds }: Finding,
  own: OwnForm,
  says: AskedRule['says'],
): AskedRule {
  const concession = own.concessions.find((one) => one.ruleId === ruleId);
  const more = { ...(says === undefined ? {} : { says }), ...(concession === undefined ? {} : { concession }) };
  return { ruleId, title, effect, position, limit, bounds, ...more };
}

const placeOf = ({ ruleId, position }: Pick<OwnFinding, 'ruleId' | 'position'>): string =>
  `${ruleId}\n${position ?? ''}`;

/** The findings of a form after a save that says what is otherwise than before. */
export function findingsAfter({ findings, ruleIds }: FormView, saved: Pick<DraftView, 'findings' | 'gone'>): Finding[] {
  const changed = new Map(saved.findings.map((finding) => [placeOf(finding), finding]));
  const gone = new Set(saved.gone.map(placeOf));
  const kept = findings.filter((finding) => !gone.has(placeOf(finding)));
  const there = new Set(kept.map(placeOf));
  const added = saved.findings.filter((finding) => !there.has(placeOf(finding)));
  const order = new Map(ruleIds.map((ruleId, at) => [ruleId, at]));
  const rank = ({ ruleId }: Finding): number => order.get(ruleId) ?? ruleIds.length;
  return [...kept.map((finding) => changed.get(placeOf(finding)) ?? finding), ...added].toSorted(
    (a, b) => rank(a) - rank(b),
  );
}

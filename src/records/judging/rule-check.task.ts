import { checkRuleSet } from '../../domain/rules/check/check.ts';
import type { RuleFault, RuleWarning } from '../../domain/rules/model/rule-fault.ts';
import { listFaults } from '../../http/frame/common-schemas.ts';
import { readYaml, type YamlRead } from '../../http/yaml/yaml-read.ts';
import type { YamlFault, YamlPlace } from '../../http/yaml/yaml-value.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { defineThreadTask } from '../../platform/threads/thread-task.ts';

/** A rule set as text. */
export type RuleText = { json: string } | { yaml: string };

/** What the static check says; of very many faults the first, and how many more there are. */
export interface RuleCheck {
  ok: boolean;
  faults: (RuleFault & { place?: YamlPlace })[];
  moreFaults: number;
  warnings: (RuleWarning & { place?: YamlPlace })[];
  moreWarnings: number;
}

/** A rule set that was read and checked. */
export interface CheckedRules {
  check: RuleCheck;
  /** absent: the text could not be read, and `check` says why */
  read?: {
    /** as JSON */
    document: string;
    /** SHA-256 (hex) of its canonical form (RFC 8785) */
    contentHash: string;
    /** where the document begins and where its name stands, in a text that is YAML */
    places?: { document: YamlPlace; name: YamlPlace };
  };
}

type Source = Extract<YamlRead, { ok: true }>['source'];

/** Reads a rule set and checks it: what a stranger can make long, so it never runs where requests are answered. */
export const ruleCheckTask = defineThreadTask<RuleText, CheckedRules>({
  name: 'rule-set.check',
  processorMs: 2000,
  clockMs: 20_000,
  run(text) {
    if ('json' in text) return checkDocument(JSON.parse(text.json));
    const read = readYaml(text.yaml);
    return read.ok ? checkDocument(read.value, read.source) : { check: unread(read.faults) };
  },
});

function unread(found: readonly YamlFault[]): RuleCheck {
  const { listed, more } = listFaults(found);
  return { ok: false, faults: listed, moreFaults: more, warnings: [], moreWarnings: 0 };
}

function checkDocument(document: unknown, source?: Source): CheckedRules {
  const checked = checkRuleSet(document);
  const list = <T extends { pointer: string; detail: string; at?: { offset: number } }>(found: readonly T[]) => {
    const { listed, more } = listFaults(found);
    if (source === undefined) return { listed, more };
    // Placed by the whole pointer: the one in the list may be cut.
    const place = (one: T, at: number) => source.placeOf(found[at]?.pointer ?? one.pointer, one.at?.offset);
    return { listed: listed.map((one, at) => ({ ...one, place: place(one, at) })), more };
  };
  const faults = list(checked.ok ? [] : checked.faults);
  const warnings = list(checked.warnings);
  return {
    check: {
      ok: checked.ok,
      faults: faults.listed,
      moreFaults: faults.more,
      warnings: warnings.listed,
      moreWarnings: warnings.more,
    },
    read: {
      document: JSON.stringify(document),
      contentHash: canonicalHash(document),
      ...(source && { places: { document: source.placeOf(''), name: source.placeOf('/name') } }),
    },
  };
}

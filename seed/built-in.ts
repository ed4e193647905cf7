import type { ParameterOverride } from '../src/domain/rules/model/rule-set.ts';
import document from './built-in-rule-set.json' with { type: 'json' };
import profiles from './profiles.json' with { type: 'json' };

export const PROFILE_NAMES = ['novice', 'intermediate', 'advanced', 'competition'] as const;
export type ProfileName = (typeof PROFILE_NAMES)[number];
export type Overrides = Readonly<Record<string, ParameterOverride>>;

/** The rules that come with the server, as a document to be checked and published; `checkRuleSet` reads it. */
export const BUILT_IN_RULE_SET: unknown = document;

/** One rule set, four run groups: what each changes, parameters only. */
export const PROFILES: Readonly<Record<ProfileName, Overrides>> = profiles;

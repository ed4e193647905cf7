import { z } from 'zod';
import { Id } from '../../http/frame/common-schemas.ts';
import { Name } from './rule-set-schemas.ts';

const Value = z.union([z.number(), z.string(), z.boolean(), z.array(z.string())]);

const ProfileView = z.object({
  name: z.string().describe('`novice`, `intermediate`, `advanced` or `competition`'),
  limits: z
    .array(
      z.object({
        name: z.string().describe('Name of the limit, as run groups override it'),
        meaning: z.string().describe('What it limits'),
        unit: z.string().optional().describe('Unit of both values'),
        builtIn: Value.describe('What the rules say for everybody'),
        value: Value.describe('What this profile says'),
      }),
    )
    .describe('Every limit that a run group of this profile changes'),
});

/** The rules that come with the server. */
export const BuiltInView = z
  .object({
    name: z.string().describe('Its own name'),
    description: z.string().optional().describe('What it is for'),
    rules: z.int().describe('How many rules it has'),
    limits: z.int().describe('How many limits can be changed'),
    profiles: z.array(ProfileView).describe('Ready-made limits for run groups, from the easiest to the strictest'),
  })
  .meta({ id: 'BuiltInRules' });
export type BuiltInView = z.infer<typeof BuiltInView>;

export const AdoptBuiltIn = z.strictObject({ name: Name }).meta({ id: 'AdoptBuiltInRules' });

export const AdoptedView = z
  .object({
    ruleSetId: Id,
    version: z.int().describe('The published version'),
    name: z.string().describe('Name in lists'),
  })
  .meta({ id: 'AdoptedRuleSet' });
export type AdoptedView = z.infer<typeof AdoptedView>;

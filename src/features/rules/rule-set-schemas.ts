import { z } from 'zod';
import { Id, InstantOut, line, text } from '../../http/frame/common-schemas.ts';
import { JsonObject } from '../../http/body/json-object.ts';

const MAX_VERSION = 2_147_483_647;
export const Name = line(120).describe('Name in lists');

export const CreateRuleSet = z
  .strictObject({
    name: Name,
    document: JsonObject.optional().describe('The rule set; it need not be complete yet. Absent: an empty one'),
  })
  .meta({ id: 'CreateRuleSet' });
export type CreateRuleSet = z.infer<typeof CreateRuleSet>;

export const ReplaceDraft = z
  .strictObject({
    name: Name,
    document: JsonObject.describe('The whole rule set; it need not be complete yet'),
  })
  .meta({ id: 'ReplaceDraft' });
export type ReplaceDraft = z.infer<typeof ReplaceDraft>;

/** A rule set as YAML: the same structure as the JSON document, comments and all. */
export const YamlText = z
  .string()
  .describe('One YAML 1.2 document (RFC 9512) with the structure of `/rule-set.schema.json`');

/** A rule set that is checked and not kept. */
export const AnyDocument = JsonObject.describe('The rule set, of any shape').meta({ id: 'RuleSetDocument' });

export const RetireVersion = z
  .strictObject({ reason: text(500).describe('Why nothing new may be judged by it') })
  .meta({ id: 'RetireRuleSetVersion' });
export type RetireVersion = z.infer<typeof RetireVersion>;

export const PublishRuleSet = z
  .strictObject({ changelog: text(2000).describe('What is different, for organizers and entrants') })
  .meta({ id: 'PublishRuleSet' });
export type PublishRuleSet = z.infer<typeof PublishRuleSet>;

const Place = z.object({
  line: z.number().describe('1-based'),
  column: z.number().describe('1-based, in UTF-16 units'),
});

export const CheckView = z
  .object({
    ok: z.boolean().describe('Whether the draft can be published'),
    faults: z
      .array(
        z.object({
          pointer: z.string().describe('JSON Pointer into the document'),
          code: z.string().describe('Kind of fault, for programs'),
          detail: z.string().describe('What is wrong'),
          at: z
            .object({
              offset: z.number().describe('0-based, in UTF-16 units'),
              line: z.number().describe('1-based'),
              column: z.number().describe('1-based'),
            })
            .optional()
            .describe('Place inside an expression'),
          place: Place.optional().describe('Place in the YAML text, where the draft is one'),
        }),
      )
      .describe('Every fault found, at most 100; empty when ok'),
    moreFaults: z.int().describe('Faults that were found and are not listed'),
    warnings: z
      .array(
        z.object({
          pointer: z.string().describe('JSON Pointer into the document'),
          code: z.string().describe('`no-passing-example` or `no-failing-example`'),
          detail: z.string().describe('What its author should know'),
          place: Place.optional().describe('Place in the YAML text, where the draft is one'),
        }),
      )
      .describe('What does not keep the draft from being published, at most 100'),
    moreWarnings: z.int().describe('Warnings that are not listed'),
  })
  .meta({ id: 'RuleSetCheck' });
export type CheckView = z.infer<typeof CheckView>;

const Document = z.record(z.string(), z.unknown()).describe('The rule set as it was sent');
const LatestVersion = z.number().optional().describe('Newest published version; absent: none yet');

export const RuleSetView = z
  .object({
    ruleSetId: Id,
    name: z.string().describe('Name in lists'),
    latestVersion: LatestVersion,
    document: Document,
    check: CheckView.describe('What the static check says of this draft'),
    createdAt: InstantOut,
  })
  .meta({ id: 'RuleSetView' });
export type RuleSetView = z.infer<typeof RuleSetView>;

export const RuleSetList = z
  .object({
    ruleSets: z
      .array(
        z.object({
          ruleSetId: Id,
          name: z.string().describe('Name in lists'),
          latestVersion: LatestVersion,
          createdAt: InstantOut,
        }),
      )
      .describe('Oldest first'),
  })
  .meta({ id: 'RuleSetList' });
export type RuleSetList = z.infer<typeof RuleSetList>;

const published = {
  ruleSetId: Id,
  version: z.number().describe('1, 2, 3 …'),
  contentHash: z.string().describe('SHA-256 (hex) of the document in the canonical form of RFC 8785'),
  publishedAt: InstantOut,
  publishedBy: z.string().describe('Who published it'),
};

const Retired = z
  .object({
    at: InstantOut,
    by: z.string().describe('Who retired it'),
    reason: z.string().describe('Why'),
  })
  .optional()
  .describe('Set once the version is retired: nothing new may point at it');

export const PublishedView = z.object(published).meta({ id: 'PublishedRuleSet' });
export type PublishedView = z.infer<typeof PublishedView>;

const Changelog = z.string().describe('What is different to the version before');

export const VersionList = z
  .object({
    versions: z.array(z.object({ ...published, changelog: Changelog, retired: Retired })).describe('Newest first'),
  })
  .meta({ id: 'RuleSetVersionList' });

export const VersionView = z
  .object({ ...published, changelog: Changelog, retired: Retired, document: Document })
  .meta({ id: 'RuleSetVersion' });
export type VersionView = z.infer<typeof VersionView>;

export const ruleSetParams = z.strictObject({ ruleSetId: Id });
export const versionParams = z.strictObject({
  ruleSetId: Id,
  version: z.coerce.number().int().min(1).max(MAX_VERSION).describe('A published version'),
});

import { z } from 'zod';
import { Id, InstantOut, line, text } from '../../http/frame/common-schemas.ts';
import { JsonObject } from '../../http/body/json-body.ts';

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

/** Bodies shown in the documentation; a test sends the document through the real check. */
const DOCUMENT = {
  name: 'Club rules',
  parameters: {
    padThicknessMinimum: {
      value: 5,
      unit: 'mm',
      meaning: 'Thinnest brake pad that may start',
      source: 'Club rules 4.2',
    },
  },
  alwaysLook: [
    {
      id: 'brake-pedal',
      title: 'Brake pedal held hard for 10 seconds, brake lights lit meanwhile',
      items: ['brake.pedal', 'brake.lights'],
      seconds: 15,
    },
  ],
  rules: [
    {
      id: 'brake-pad-thickness',
      title: 'Brake pad thickness',
      items: ['pad.thickness'],
      test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padThicknessMinimum' } },
      effect: 'bar',
      message: 'The pad is too thin to last the event.',
      fix: 'Fit new pads on both sides of the axle and bed them in.',
      basis: { kind: 'common-practice' },
    },
  ],
  examples: [],
};

const RULE_SET_ID = '019ab8f0-0000-7000-8000-0000000000c1';

export const DRAFT_EXAMPLE = { name: 'Club rules 2026', document: DOCUMENT };

export const RULE_SET_EXAMPLE = {
  ruleSetId: RULE_SET_ID,
  ...DRAFT_EXAMPLE,
  latestVersion: 1,
  check: {
    ok: true,
    faults: [],
    moreFaults: 0,
    warnings: [
      {
        pointer: '/rules/0',
        code: 'no-passing-example',
        detail: 'no example states that "brake-pad-thickness" is met',
      },
      {
        pointer: '/rules/0',
        code: 'no-failing-example',
        detail: 'no example states that "brake-pad-thickness" is not met',
      },
    ],
    moreWarnings: 0,
  },
  createdAt: '2026-04-11T18:02:00.000Z',
};

export const LIST_EXAMPLE = {
  ruleSets: [
    { ruleSetId: RULE_SET_ID, name: DRAFT_EXAMPLE.name, latestVersion: 1, createdAt: RULE_SET_EXAMPLE.createdAt },
  ],
};

export const CHECK_EXAMPLE = {
  ok: false,
  faults: [
    {
      pointer: '/rules/0/test/item',
      code: 'unknown-item',
      detail: 'there is no item "pad.thicknes" in the catalogue',
      place: { line: 14, column: 13 },
    },
  ],
  moreFaults: 0,
  warnings: [],
  moreWarnings: 0,
};

export const DOCUMENT_EXAMPLE = DOCUMENT;

export const YAML_EXAMPLE = `# Rules for club days
name: Club rules
parameters:
  padThicknessMinimum: { value: 5, unit: mm, meaning: Thinnest brake pad that may start }
rules:
  - id: brake-pad-thickness
    title: Brake pad thickness
    items: [pad.thickness]
    test: { kind: limit, item: pad.thickness, atLeast: { parameter: padThicknessMinimum } }
    effect: bar
    message: The pad is too thin to last the event.
    fix: Fit new pads on both sides of the axle and bed them in.
    basis: { kind: common-practice }
examples: []
`;

export const RETIRE_EXAMPLE = { reason: 'The pad limit was too low for this season.' };

export const PUBLISHED_EXAMPLE = {
  ruleSetId: RULE_SET_ID,
  version: 1,
  contentHash: '5f0c7a1ae1b7fcd7a1d4e0f5b6c7d8e9f0a1b2c3d4e5f60718293a4b5c6d7e8f',
  publishedAt: '2026-04-12T07:30:00.000Z',
  publishedBy: 'Ines Varga',
};

export const PUBLISH_EXAMPLE = { changelog: 'First version for the 2026 season.' };

export const VERSION_EXAMPLE = { ...PUBLISHED_EXAMPLE, ...PUBLISH_EXAMPLE, document: DOCUMENT };

export const RETIRED_EXAMPLE = {
  ...VERSION_EXAMPLE,
  retired: { at: '2026-09-01T10:00:00.000Z', by: 'Ines Varga', ...RETIRE_EXAMPLE },
};

export const BUILT_IN_EXAMPLE = {
  name: 'Built-in track-day rules',
  rules: 180,
  limits: 129,
  profiles: [
    {
      name: 'novice',
      limits: [
        { name: 'padThicknessMinimum', meaning: 'Thinnest brake pad that may start', unit: 'mm', builtIn: 5, value: 4 },
      ],
    },
  ],
};

export const ADOPTED_EXAMPLE = { ruleSetId: RULE_SET_ID, version: 1, name: 'Club rules 2026' };

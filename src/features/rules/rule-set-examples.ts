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

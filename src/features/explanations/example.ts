import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { FINDING_EXAMPLE } from '../../http/finding-view.ts';
import type { ExplanationView } from './schemas.ts';

export const EXPLANATION_EXAMPLE: ExplanationView = {
  inspectionId: '019ab8f0-0000-7000-8000-0000000000f1',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  revision: 1,
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000f0',
  ruleSetVersion: 1,
  rule: {
    ruleId: 'pad-thickness',
    title: 'Brake pad friction material',
    text: '"Friction material thickness" must be at least 4 mm at each position.',
    items: [{ key: 'pad.thickness', label: 'Friction material thickness' }],
    effect: 'bar',
    watch: false,
    origin: { from: 'rule-set', version: 1 },
    basis: { kind: 'common-practice' },
  },
  parameters: [
    {
      name: 'padMinimum',
      value: 4,
      unit: 'mm',
      text: '4 mm',
      meaning: 'Least friction material',
      origin: { from: 'run-group', version: 1, was: { value: 3, unit: 'mm', text: '3 mm' } },
    },
  ],
  applies: true,
  positions: [
    {
      position: 'FL.in',
      inWords:
        'Friction material thickness at FL.in: you declared 3.5 mm; asked for is at least 4 mm. The pad is too thin to last the event. The car may not go on track like this. Fit new pads on both sides of the axle and bed them in.',
      finding: FINDING_EXAMPLE,
      inputs: [
        {
          item: 'pad.thickness',
          label: 'Friction material thickness',
          position: 'FL.in',
          sent: { value: 3.5, unit: 'mm' },
          sentText: '3.5 mm',
          value: 3.5,
          unit: 'mm',
          valueText: '3.5 mm',
          by: 'entrant',
        },
      ],
      records: [],
      facts: [],
      comparison: { text: '3.5 mm ≥ 4 mm is not so, short by 0.5 mm', holds: false },
      counts: 'bar',
      countsBecause: 'The rule bars: the car may not go on track until it is met.',
    },
  ],
  notAt: [],
  judgedAgain: 'same',
  caution: GENERAL_CAUTION,
};

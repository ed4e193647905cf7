import type { Verdict } from '../../src/domain/rules/model/finding.ts';
import type { Example } from '../../src/domain/rules/model/rule-set.ts';
import { type Changes, changeAnswers, goodAnswers } from '../answers.ts';
import { PROFILES, type ProfileName } from '../built-in.ts';
import { type CarKind, carOf } from '../cars.ts';
import { ENDS_ON, STARTS_ON } from './example-case.ts';

interface WholeCar {
  shows: string;
  car: CarKind;
  profile: ProfileName;
  changes?: Changes;
  expect: Verdict;
  findings?: Example['findings'];
}

const FIVE_MM = { 'pad.thickness@*': 5.4 };

/** Whole declarations under all rules; the same car may be clean in one group and barred in another. */
const WHOLE_CARS: readonly WholeCar[] = [
  { shows: 'good coupé, novices', car: 'coupe', profile: 'novice', expect: 'clean' },
  {
    shows: 'pads of 5.4 mm, novices',
    car: 'coupe',
    profile: 'novice',
    changes: FIVE_MM,
    expect: 'clean',
    findings: { 'pad-thickness': 'met' },
  },
  {
    shows: 'pads of 5.4 mm, advanced',
    car: 'coupe',
    profile: 'advanced',
    changes: FIVE_MM,
    expect: 'barred',
    findings: { 'pad-thickness': 'not-met', 'brake-fluid-measured': 'unanswerable' },
  },
  {
    shows: 'good hatchback with drums at the rear and a sealed gearbox, novices',
    car: 'drumHatch',
    profile: 'novice',
    expect: 'clean',
    findings: { 'lining-thickness-bonded': 'met', 'gearbox-fluid-low': 'absent', 'pad-thickness@RL.in': 'absent' },
  },
  {
    shows: 'hatchback with a wet wheel cylinder, novices',
    car: 'drumHatch',
    profile: 'novice',
    changes: { 'drum.wheel-cylinders@RL': 'wet' },
    expect: 'barred',
    findings: { 'drum-wheel-cylinder-wet@RL': 'not-met', 'drum-wheel-cylinder-wet@RR': 'met' },
  },
  {
    shows: 'good battery car, intermediate; nothing of an engine is asked',
    car: 'battery',
    profile: 'intermediate',
    expect: 'clean',
    findings: { 'oil-grade-form': 'absent', 'exhaust-secure': 'absent', 'hv-isolation': 'met' },
  },
  {
    shows: 'battery car as its maker built it, isolation not measured',
    car: 'battery',
    profile: 'novice',
    changes: { 'hv.isolation': null },
    expect: 'clean',
    findings: { 'hv-isolation-shown': 'absent', 'hv-isolation-known': 'absent', 'hv-isolation': 'absent' },
  },
  {
    shows: 'battery car after damage, isolation not measured',
    car: 'battery',
    profile: 'novice',
    changes: { 'hv.isolation': null, 'hv.damage-or-work': 'damage' },
    expect: 'barred',
    findings: { 'hv-isolation-known': 'not-met', 'hv-damage-or-work': 'not-met' },
  },
  {
    shows: 'battery car with a warning that nobody looked for',
    car: 'battery',
    profile: 'novice',
    changes: { 'hv.faults-none': null },
    expect: 'barred',
    findings: { 'hv-faults': 'unanswerable' },
  },
  {
    shows: 'carbon rotors, advanced; iron is not asked',
    car: 'gt',
    profile: 'advanced',
    expect: 'to-inspect',
    findings: { 'rotor-weight': 'met', 'rotor-thickness': 'absent', 'caliper-guides-free': 'absent' },
  },
  {
    shows: 'open sports racer, competition, one strap out of date',
    car: 'sportsRacer',
    profile: 'competition',
    changes: { 'harness.label-date@lap-left': '2025-12-31' },
    expect: 'barred',
    findings: {
      'harness-label-date': 'not-met',
      'harness-label-date@lap-left': 'not-met',
      'harness-label-date@crotch': 'met',
    },
  },
];

/** The examples of whole declarations, judged by all rules. */
export function wholeCarExamples(): Example[] {
  return WHOLE_CARS.map(({ shows, car, profile, changes = {}, expect, findings }) => {
    const vehicle = carOf(car);
    return {
      name: `whole car: ${shows}`,
      vehicle,
      answers: changeAnswers(goodAnswers(vehicle, STARTS_ON), changes, vehicle),
      parameters: PROFILES[profile],
      event: { startsOn: STARTS_ON, endsOn: ENDS_ON },
      venue: { topSpeedKmh: 224, soundLimitDb: 92, soundDistanceM: 20 },
      expect,
      ...(findings && { findings }),
    };
  });
}

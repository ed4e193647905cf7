import type { ParameterValue } from '../../src/domain/rules/model/rule-set.ts';
import type { Setting } from './example-case.ts';

interface Settings {
  /** what makes the rule's condition true, or states the limit of the car */
  applies?: Setting;
  /** what makes the condition false; the judged answer is bad all the same */
  otherwise?: Setting;
}

const wheels = (value: number) => ({ FL: value, FR: value, RL: value, RR: value });
const set = (name: string, value: ParameterValue): Setting => ({ parameters: { [name]: { value } } });
const answer = (key: string, value: unknown): Setting => ({ answers: { [key]: value } });
const flag = (name: string): Settings => ({ applies: set(name, true), otherwise: set(name, false) });
const notFlag = (name: string): Settings => ({ applies: set(name, false), otherwise: set(name, true) });
const choice = (key: string, applies: string, otherwise: string): Settings => ({
  applies: answer(key, applies),
  otherwise: answer(key, otherwise),
});
const damperUse = (use: 'club' | 'professional', other: 'club' | 'professional'): Settings => ({
  applies: { vehicle: { damper: { use } } },
  otherwise: { vehicle: { damper: { use: other } } },
});
const extinguisher = (required: boolean): Settings => ({
  applies: { ...set('extinguisherRequired', required), ...answer('extinguisher.type', 'foam') },
  otherwise: { ...set('extinguisherRequired', !required), ...answer('extinguisher.type', 'foam') },
});

const readAt = (minutes: number, hot = true): Setting => ({
  answers: { 'oil.level.at-operating-temperature': hot, 'oil.level.minutes-since-shutdown': minutes },
});
const oilRead: Settings = { applies: readAt(7), otherwise: readAt(4) };

/** What a rule with a condition, or with a limit that the vehicle record states, needs around the judged answer. */
export const SETTINGS: Readonly<Record<string, Settings>> = {
  'oil-overfilled': oilRead,
  'oil-level-hot-low': oilRead,
  'catch-tank': flag('catchTankRequired'),
  'lights-for-rain-and-dusk': flag('lightsRequired'),
  'battery-positive-covered': { applies: set('preparedCarAsked', true) },
  'cameras-secured': { applies: set('preparedCarAsked', true) },
  'gas-leak': choice('fuel.gas', 'lpg', 'none'),
  'gas-tank-valve': choice('fuel.gas', 'cng', 'none'),
  'gas-test': choice('fuel.gas', 'hydrogen', 'none'),
  'brake-fluid-label-dot-3-dry': choice('brake-fluid.class', 'DOT 3', 'ISO 3'),
  'brake-fluid-label-dot-3-wet': choice('brake-fluid.class', 'DOT 3', 'ISO 3'),
  'brake-fluid-label-dot-4-dry': choice('brake-fluid.class', 'DOT 4', 'DOT 3'),
  'brake-fluid-label-dot-4-wet': choice('brake-fluid.class', 'DOT 4', 'DOT 3'),
  'brake-fluid-label-dot-5-and-5-1-dry': choice('brake-fluid.class', 'DOT 5.1', 'DOT 4'),
  'brake-fluid-label-dot-5-and-5-1-wet': choice('brake-fluid.class', 'DOT 5', 'DOT 4'),
  'brake-fluid-measured': { applies: set('brakeFluidTestAtTheLine', true) },
  'wheel-clean': { applies: set('wheelDetailsAsked', true) },
  'wheel-weights': { applies: set('wheelDetailsAsked', true) },
  'extinguisher-mounted': { applies: set('extinguisherRequired', true) },
  'seat-standard': { applies: set('seatAsked', true) },
  'pad-wear-seen-even': flag('lowestIsEnough'),
  'pad-temperature-advised': notFlag('padTemperatureIsBinding'),
  'pad-temperature-needed': flag('padTemperatureIsBinding'),
  'lining-thickness-riveted': { applies: { vehicle: { lining: { front: 'riveted', rear: 'riveted' } } } },
  'drum-diameter': { applies: { ...set('drumMeasured', true), vehicle: { drumMaximumDiameterMm: wheels(204) } } },
  'rotor-thickness': { applies: { vehicle: { rotorMinimumThicknessMm: wheels(22.4) } } },
  'rotor-weight': { applies: { vehicle: { rotorMinimumWeightG: wheels(5600) } } },
  'rotor-surface-checks': notFlag('heavyBrakeDuty'),
  'rotor-surface-checks-heavy-duty': flag('heavyBrakeDuty'),
  'damper-service-professional': damperUse('professional', 'club'),
  'damper-service-club-advised': damperUse('club', 'professional'),
  'damper-service-club': damperUse('club', 'professional'),
  'tyre-tread-lowest': { applies: set('treadAtThreePlaces', false) },
  'slick-wear-holes': { applies: answer('tyre.kind', 'slick') },
  'slick-no-wear-holes': { applies: answer('tyre.kind', 'slick') },
  'coolant-glycol': flag('glycolForbidden'),
  'tow-eye': flag('towEyeRequired'),
  'closed-car-structure': {
    applies: set('closedCarStructureAsked', true),
    otherwise: set('closedCarStructureAsked', false),
  },
  'arm-restraints': flag('armRestraintsRequired'),
  'window-net': flag('windowNetRequired'),
  'eyewear-open-car': { applies: { vehicle: { body: 'open' } }, otherwise: { vehicle: { body: 'closed' } } },
  'harness-label-date': { applies: answer('harness.standard', 'SFI 16.1') },
  'head-restraint': flag('headRestraintRequired'),
  'closed-car-structure-known': { applies: set('closedCarStructureAsked', true) },
  'roll-padding-known': { applies: { ...set('rollPaddingAsked', true), ...answer('rollover.structure', 'roll-bar') } },
  'head-restraint-posts-known': { applies: set('headRestraintRequired', true) },
  'head-restraint-posts': flag('headRestraintRequired'),
  'seat-8855-1999-date': choice('seat.standard', 'FIA 8855-1999', 'factory'),
  'seat-8855-2021-date': choice('seat.standard', 'FIA 8855-2021', 'FIA 8855-1999'),
  'seat-8862-2009-date': choice('seat.standard', 'FIA 8862-2009', 'factory'),
  'extinguisher-carried': flag('extinguisherRequired'),
  'extinguisher-service': extinguisher(true),
  'extinguisher-service-voluntary': extinguisher(false),
  'master-switch': flag('masterSwitchRequired'),
  'full-inspection': flag('fullInspectionIsBinding'),
  'full-inspection-advised': notFlag('fullInspectionIsBinding'),
};

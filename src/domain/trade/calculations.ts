import { ALIGNMENT_COMPARE } from './alignment-compare.ts';
import { BRAKE_HEAT } from './brake-heat.ts';
import type { Calculation } from './calculation.ts';
import { CG_HEIGHT } from './cg-height.ts';
import { COOLANT_MIX } from './coolant-mix.ts';
import { COOLANT } from './coolant.ts';
import { CORNER_WEIGHTS } from './corner-weights.ts';
import { ENGINE_OIL_GRADE } from './engine-oil-grade.ts';
import { FASTENER_TORQUE } from './fastener-torque.ts';
import { FLUID_CLASS } from './fluid-class.ts';
import { GEAR_OIL_GRADE } from './gear-oil-grade.ts';
import { HV_ISOLATION } from './hv-isolation.ts';
import { LABEL_VALIDITY } from './label-validity-calculation.ts';
import { SUIT_PROTECTION } from './label-validity-suit.ts';
import { LINE_STAFFING } from './line-staffing.ts';
import { OIL_LEVEL } from './oil-level.ts';
import { PAD_FORECAST } from './pad-forecast.ts';
import { PLAY_DIAGNOSIS } from './play-diagnosis.ts';
import { ROLL_CLEARANCE } from './roll-clearance.ts';
import { ROTOR_CHECK } from './rotor-check.ts';
import { SERVICE_DUE } from './service-due-calculation.ts';
import { SOUND_AVERAGE } from './sound-level-average.ts';
import { SOUND_LEVEL } from './sound-level.ts';
import { STEERING_PLAY } from './steering-play.ts';
import { STOP_DISTANCE } from './stop-distance.ts';
import { SYMPTOM_TRIAGE } from './symptom-triage.ts';
import { TREADWEAR_GRADE } from './treadwear-grade.ts';
import { TYRE_AGE } from './tyre-age.ts';
import { TYRE_PRESSURE } from './tyre-pressure.ts';
import { TYRE_RATING } from './tyre-rating.ts';

/** Every computation that the API offers, in the order of its list. One that is not listed here is not offered. */
export const CALCULATIONS: readonly Calculation[] = [
  BRAKE_HEAT,
  STOP_DISTANCE,
  PAD_FORECAST,
  ROTOR_CHECK,
  TYRE_AGE,
  TYRE_PRESSURE,
  TYRE_RATING,
  TREADWEAR_GRADE,
  FLUID_CLASS,
  ENGINE_OIL_GRADE,
  GEAR_OIL_GRADE,
  OIL_LEVEL,
  COOLANT,
  COOLANT_MIX,
  SERVICE_DUE,
  LABEL_VALIDITY,
  SUIT_PROTECTION,
  PLAY_DIAGNOSIS,
  STEERING_PLAY,
  SYMPTOM_TRIAGE,
  CORNER_WEIGHTS,
  CG_HEIGHT,
  ALIGNMENT_COMPARE,
  FASTENER_TORQUE,
  SOUND_LEVEL,
  SOUND_AVERAGE,
  ROLL_CLEARANCE,
  HV_ISOLATION,
  LINE_STAFFING,
];

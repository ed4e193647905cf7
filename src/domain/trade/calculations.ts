import { ALIGNMENT_COMPARE } from './suspension/alignment-compare.ts';
import { BRAKE_HEAT } from './brakes/brake-heat.ts';
import { BRAKE_MARGIN } from './brakes/brake-margin.ts';
import type { Calculation } from './calculation.ts';
import { CG_HEIGHT } from './suspension/cg-height.ts';
import { COOLANT, COOLANT_MIX } from './fluids/coolant.ts';
import { CORNER_WEIGHTS } from './suspension/corner-weights.ts';
import { ENGINE_OIL_GRADE } from './fluids/engine-oil-grade.ts';
import { FASTENER_TORQUE } from './safety/fastener-torque.ts';
import { FLUID_CLASS } from './brakes/fluid-class.ts';
import { GEAR_OIL_GRADE } from './fluids/gear-oil-grade.ts';
import { HV_ISOLATION } from './safety/hv-isolation.ts';
import { LAST_SAFE_SESSION } from '../foresight/last-safe-session.ts';
import { LABEL_VALIDITY } from './safety/label-validity-calculation.ts';
import { SUIT_PROTECTION } from './safety/label-validity.ts';
import { LINE_STAFFING } from './line/line-staffing.ts';
import { OIL_LEVEL } from './fluids/oil-level.ts';
import { PAD_FORECAST } from './brakes/pad-forecast.ts';
import { PLAY_DIAGNOSIS } from './suspension/play-diagnosis.ts';
import { ROLL_CLEARANCE } from './suspension/roll-clearance.ts';
import { ROTOR_CHECK } from './brakes/rotor-check.ts';
import { SERVICE_DUE } from './line/service-due-calculation.ts';
import { SOUND_AVERAGE, SOUND_LEVEL } from './safety/sound-level.ts';
import { STEERING_PLAY } from './suspension/steering-play.ts';
import { STOP_DISTANCE } from './brakes/stop-distance.ts';
import { SYMPTOM_TRIAGE } from './line/symptom-triage.ts';
import { TREADWEAR_GRADE } from './tyres/treadwear-grade.ts';
import { TYRE_AGE } from './tyres/tyre-age.ts';
import { TYRE_PRESSURE } from './tyres/tyre-pressure.ts';
import { TYRE_RATING } from './tyres/tyre-rating.ts';

/** Every computation that the API offers, in the order of its list. One that is not listed here is not offered. */
export const CALCULATIONS: readonly Calculation[] = [
  BRAKE_HEAT,
  BRAKE_MARGIN,
  STOP_DISTANCE,
  PAD_FORECAST,
  LAST_SAFE_SESSION,
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

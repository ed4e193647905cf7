import type { Vehicle } from '../vehicle.ts';

/** What whoever gets somebody out of a car must know of it. What is absent, nobody said. */
export interface Rescue {
  drive?: NonNullable<Vehicle['powertrain']> | undefined;
  gas?: NonNullable<Vehicle['gas']> | undefined;
  /** working voltage of the traction battery, V */
  volts?: number | undefined;
  /** where the high-voltage or battery disconnect is, in the words of whoever entered the car */
  disconnectAt?: string | undefined;
}

/** What a car's record says for rescuers. */
export function rescueOf({ powertrain, gas, highVoltageV, disconnectAt }: Partial<Vehicle>): Rescue {
  return {
    ...(powertrain === undefined ? {} : { drive: powertrain }),
    ...(gas === undefined ? {} : { gas }),
    ...(highVoltageV === undefined ? {} : { volts: highVoltageV }),
    ...(disconnectAt === undefined ? {} : { disconnectAt }),
  };
}

const hasVoltage = ({ drive, volts }: Rescue): boolean =>
  drive === 'hybrid' || drive === 'battery' || volts !== undefined;
const hasGas = ({ gas }: Rescue): boolean => gas !== undefined && gas !== 'none';

/**
 * Whether rescuers must act otherwise than with a petrol car. `not-stated`: nobody said what drives it, or whether it
 * carries gas, so that it may be one.
 */
export function rescueKind(rescue: Rescue): 'special' | 'not-stated' | 'plain' {
  if (hasVoltage(rescue) || hasGas(rescue)) return 'special';
  return rescue.drive === undefined || rescue.gas === undefined ? 'not-stated' : 'plain';
}

/** What there is in the car, in the order in which it is said. */
export type Hazard = 'battery' | 'hybrid' | 'voltage' | 'lpg' | 'cng' | 'hydrogen';

/** Names what is in a car that is `special`; `voltage` where a voltage is stated and no such drive. */
export function hazardsOf(rescue: Rescue): readonly Hazard[] {
  const { drive, gas } = rescue;
  const electric = drive === 'hybrid' || drive === 'battery' ? [drive] : hasVoltage(rescue) ? ['voltage' as const] : [];
  return gas === undefined || gas === 'none' ? electric : [...electric, gas];
}

import type { Area } from './item.ts';

/** The areas in the order in which one walks round a car: bonnet, outside, wheels, underneath, cockpit, then the papers. */
export const WALK_ORDER: readonly Area[] = [
  'engine',
  'cooling',
  'brake-hydraulics',
  'electric',
  'wheels-tyres',
  'brake-hardware',
  'suspension-steering',
  'driveline',
  'body-safety',
  'setup',
  'papers',
];

export const AREA_LABELS: Readonly<Record<Area, string>> = {
  engine: 'Engine bay',
  cooling: 'Cooling',
  'brake-hydraulics': 'Brake fluid and pedal',
  electric: 'Electric and hybrid system',
  'wheels-tyres': 'Wheels and tyres',
  'brake-hardware': 'Pads, linings, rotors and drums',
  'suspension-steering': 'Suspension and steering',
  driveline: 'Gearbox and driveline',
  'body-safety': 'Body, cockpit and safety equipment',
  setup: 'Set-up and last outing',
  papers: 'Papers and declaration',
};

import type { Vehicle } from '../src/domain/vehicle.ts';

type Bushing = NonNullable<NonNullable<Vehicle['bushing']>['subframe']>;

const wheels = (front: number, rear: number) => ({ FL: front, FR: front, RL: rear, RR: rear });

function bushings(arms: Bushing, bars: Bushing, mounts: Bushing): NonNullable<Vehicle['bushing']> {
  return {
    'front-upper-arm': arms,
    'front-lower-arm': arms,
    'front-anti-roll-bar': bars,
    'rear-upper-arm': arms,
    'rear-lower-arm': arms,
    'rear-anti-roll-bar': bars,
    subframe: mounts,
    'differential-mount': mounts,
  };
}

/** A road car as it leaves the factory: what most cars below share. */
const ROAD_CAR = {
  drive: 'rear',
  body: 'closed',
  powertrain: 'combustion',
  gas: 'none',
  sump: 'wet',
  cooling: 'liquid',
  caliper: { front: 'floating', rear: 'floating' },
  rotor: { front: 'iron', rear: 'iron' },
  bushing: bushings('rubber', 'rubber', 'rubber'),
  damper: { rebuildable: false },
  restraint: 'three-point',
  hydraulicClutch: true,
  separateDifferential: true,
  fuelCell: false,
  steering: 'rack',
  topSpeedKmh: 215,
  wheelFastening: 'studs',
  wheelNutTorqueNm: 110,
  wheelStudDiameterMm: 12,
  wheelThreadPitchMm: 1.5,
  wheelThreadIn: 'steel',
  rotorMinimumThicknessMm: wheels(22.4, 18.4),
  coldPressurePlacardKpa: { front: 220, rear: 230 },
} as const satisfies Partial<Vehicle>;

/** Six-point harness, spherical joints, dry sump: what the cars built for the track share. */
const TRACK_CAR = {
  ...ROAD_CAR,
  sump: 'dry',
  caliper: { front: 'fixed', rear: 'fixed' },
  bushing: bushings('spherical', 'spherical', 'urethane'),
  damper: { rebuildable: true, use: 'professional' },
  restraint: 'harness',
  harnessPoints: 6,
} as const satisfies Partial<Vehicle>;

/** Invented cars, one or more of every kind that changes which items are asked. */
export const CARS = {
  coupe: {
    ...ROAD_CAR,
    description: 'Club coupé 2.0, 2014',
    colour: 'red',
    massKg: 1320,
    axleLoadKg: { front: 710, rear: 610 },
  },
  hatch: {
    ...ROAD_CAR,
    description: 'Hatchback 1.6, 2009',
    colour: 'white',
    massKg: 1180,
    drive: 'front',
    caliper: { front: 'fixed', rear: 'floating' },
    bushing: bushings('urethane', 'urethane', 'rubber'),
    damper: { rebuildable: true, use: 'club' },
    separateDifferential: false,
    rotorMinimumThicknessMm: wheels(20.4, 8.4),
  },
  saloon: {
    ...ROAD_CAR,
    description: 'Saloon 3.0, 2018',
    colour: 'dark blue',
    massKg: 1680,
    drive: 'all',
    gas: 'lpg',
    disconnectAt: 'battery in the boot, left; gas valve in the spare-wheel well',
  },
  roadster: { ...ROAD_CAR, description: 'Roadster 1.8, 2011', colour: 'green', massKg: 1090, body: 'open' },
  targa: { ...ROAD_CAR, description: 'Targa 2.7, 2006', colour: 'yellow', massKg: 1360, body: 'targa' },
  classic: {
    ...ROAD_CAR,
    description: 'Rear-engined classic 3.0, 1985',
    colour: 'orange',
    massKg: 1210,
    cooling: 'air',
    sump: 'dry',
    hydraulicClutch: false,
    separateDifferential: false,
    damper: { rebuildable: true, use: 'club' },
  },
  clubRacer: {
    ...TRACK_CAR,
    description: 'Club racer 2.0, 2015',
    colour: 'silver',
    massKg: 1060,
    sump: 'wet',
    damper: { rebuildable: true, use: 'club' },
    baseline: {
      camberDeg: wheels(-3, -2),
      toeMm: wheels(0, 1),
      casterDeg: { FL: 6, FR: 6 },
      cornerWeightKg: { FL: 280, FR: 275, RL: 255, RR: 250 },
      rideHeightMm: wheels(110, 118),
    },
  },
  sportsRacer: { ...TRACK_CAR, description: 'Open sports racer 1.8, 2012', colour: 'black', massKg: 720, body: 'open' },
  gt: {
    ...TRACK_CAR,
    description: 'GT special 3.8, 2021',
    colour: 'grey',
    massKg: 1340,
    rotor: { front: 'carbon', rear: 'carbon' },
    rotorMinimumThicknessMm: undefined,
    rotorMinimumWeightG: wheels(5600, 4900),
    fuelCell: true,
    wheelFastening: 'centre-lock',
    wheelNutTorqueNm: 600,
    wheelNutTorqueToleranceNm: 30,
    wheelStudDiameterMm: undefined,
    wheelThreadPitchMm: undefined,
    wheelThreadIn: undefined,
  },
  mixedCoupe: {
    ...ROAD_CAR,
    description: 'Coupé 4.0, carbon front rotors, 2019',
    colour: 'lilac',
    massKg: 1540,
    caliper: { front: 'fixed', rear: 'floating' },
    rotor: { front: 'carbon', rear: 'iron' },
    rotorMinimumThicknessMm: { RL: 24.4, RR: 24.4 },
    rotorMinimumWeightG: { FL: 5700, FR: 5700 },
  },
  drumHatch: {
    ...ROAD_CAR,
    description: 'Hatchback 1.2, drums at the rear, 2003',
    colour: 'light blue',
    massKg: 1040,
    drive: 'front',
    oilLevelMethod: 'dipstick',
    gearbox: 'sealed',
    separateDifferential: false,
    rotor: { front: 'iron', rear: 'drum' },
    lining: { rear: 'bonded' },
    rotorMinimumThicknessMm: { FL: 19, FR: 19 },
    drumMaximumDiameterMm: { RL: 204, RR: 204 },
  },
  hybrid: {
    ...ROAD_CAR,
    description: 'Hybrid saloon 2.5, 2022',
    colour: 'turquoise',
    massKg: 1790,
    powertrain: 'hybrid',
    disconnectAt: 'under the rear seat, left side',
    hydraulicClutch: false,
    highVoltageV: 320,
  },
  battery: {
    ...ROAD_CAR,
    description: 'Battery hatchback, 2023',
    colour: 'lime',
    massKg: 1880,
    powertrain: 'battery',
    disconnectAt: 'under the front lid, orange loop on the right',
    sump: undefined,
    hydraulicClutch: false,
    separateDifferential: false,
    highVoltageV: 400,
  },
} as const satisfies Record<string, Vehicle>;

export type CarKind = keyof typeof CARS;

/** The vehicle record of a kind of car. */
export function carOf(kind: CarKind): Vehicle {
  return CARS[kind];
}

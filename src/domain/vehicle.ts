import { z } from 'zod';

const perWheel = <T extends z.ZodType>(value: T) =>
  z.strictObject({ FL: value.optional(), FR: value.optional(), RL: value.optional(), RR: value.optional() });
const perAxle = <T extends z.ZodType>(value: T) => z.strictObject({ front: value.optional(), rear: value.optional() });
const positive = (max: number) => z.number().positive().max(max);
/** Fluids a maker prescribes; classes of one line of `fluid-class-minimums.ts` may be mixed. */
const Prescribed = z.enum(['DOT 3', 'DOT 4', 'DOT 5', 'DOT 5.1', 'mineral-oil']);
const BushingType = z.enum(['rubber', 'urethane', 'spherical', 'none']);

/**
 * The record of a car: what decides which items apply and what the stamped or specified values are. Everything but
 * the description is optional; what is missing is asked (items apply) and can make a rule `unanswerable`, never met.
 */
export const Vehicle = z.strictObject({
  description: z.string().trim().min(1).max(120).describe('Make, model and year as free text'),
  colour: z.string().trim().min(1).max(40).optional().describe('As a marshal would say it'),
  massKg: positive(5000).optional().describe('Mass with driver, kg'),
  drive: z.enum(['front', 'rear', 'all']).optional().describe('Driven axles'),
  body: z.enum(['closed', 'open', 'targa']).optional().describe('Body'),
  powertrain: z.enum(['combustion', 'hybrid', 'battery']).optional().describe('What drives the car'),
  gas: z
    .enum(['none', 'lpg', 'cng', 'hydrogen'])
    .optional()
    .describe('Gas it carries to drive: liquefied petroleum gas, compressed natural gas, hydrogen, or none'),
  disconnectAt: z
    .string()
    .trim()
    .min(1)
    .max(160)
    .optional()
    .describe('Where the high-voltage or battery disconnect is, for rescuers'),
  sump: z.enum(['wet', 'dry']).optional().describe('Engine oil system'),
  oilLevelMethod: z
    .enum(['dipstick', 'sight-glass', 'electronic', 'tank'])
    .optional()
    .describe('How the engine oil level is read'),
  oilReadFromMinutes: z
    .number()
    .min(0)
    .max(1440)
    .optional()
    .describe('Earliest time after stopping the engine to read the oil level, as the maker says, minutes'),
  oilReadToMinutes: positive(1440)
    .optional()
    .describe('Latest time after stopping the engine to read the oil level, as the maker says, minutes'),
  gearbox: z
    .enum(['own-oil', 'sealed', 'shares-engine-oil', 'reduction-gear'])
    .optional()
    .describe('Gearbox oil: its own and checkable, sealed for life, that of the engine, or a reduction gear'),
  conversion: z.boolean().optional().describe('Converted to electric drive by somebody other than its maker'),
  brakeFluidPrescribed: Prescribed.optional().describe('Fluid that the maker prescribes for the brakes'),
  clutchFluidPrescribed: Prescribed.optional().describe('Fluid that the maker prescribes for the clutch'),
  sharedReservoir: z.boolean().optional().describe('Brakes and clutch share one fluid reservoir'),
  caliper: perAxle(z.enum(['fixed', 'floating']))
    .optional()
    .describe('Brake caliper kind per axle'),
  rotor: perAxle(z.enum(['iron', 'carbon', 'drum']))
    .optional()
    .describe('Brake per axle: iron or carbon rotors, or drums'),
  lining: perAxle(z.enum(['bonded', 'riveted']))
    .optional()
    .describe('How the linings of drum brakes are held per axle'),
  bushing: z
    .strictObject({
      'front-upper-arm': BushingType.optional(),
      'front-lower-arm': BushingType.optional(),
      'front-anti-roll-bar': BushingType.optional(),
      'rear-upper-arm': BushingType.optional(),
      'rear-lower-arm': BushingType.optional(),
      'rear-anti-roll-bar': BushingType.optional(),
      subframe: BushingType.optional(),
      'differential-mount': BushingType.optional(),
    })
    .optional()
    .describe(
      'Bushing type per location; a location not named is asked about without assuming its type, `none` is not asked',
    ),
  cooling: z.enum(['liquid', 'air']).optional().describe('What cools the engine or motor'),
  damper: z
    .strictObject({
      rebuildable: z.boolean().optional().describe('Can be serviced'),
      use: z.enum(['club', 'professional']).optional().describe('How hard they are used'),
    })
    .optional()
    .describe('Dampers'),
  restraint: z.enum(['three-point', 'harness']).optional().describe('Driver restraint'),
  harnessPoints: z.literal([4, 5, 6]).optional().describe('Straps of the harness; four have no crotch strap'),
  hydraulicClutch: z.boolean().optional().describe('The clutch has a fluid reservoir'),
  separateDifferential: z.boolean().optional().describe('A differential with fluid of its own, apart from the gearbox'),
  fuelCell: z.boolean().optional().describe('A fuel cell (bladder tank) is fitted'),
  wheelFastening: z.enum(['bolts', 'studs', 'centre-lock']).optional().describe('What holds the wheels on'),
  wheelNutTorqueNm: positive(2000).optional().describe("The maker's wheel fastener torque, N·m"),
  wheelNutTorqueToleranceNm: positive(200)
    .optional()
    .describe('How far from that torque the maker allows, N·m; absent: the share that the rules name'),
  wheelStudDiameterMm: positive(40).optional().describe('Wheel stud or bolt diameter, mm: 14 of M14×1.5'),
  wheelThreadPitchMm: positive(4).optional().describe('Pitch of their thread, mm: 1.5 of M14×1.5'),
  wheelThreadIn: z
    .enum(['steel', 'aluminium'])
    .optional()
    .describe('What the thread goes into: the nut, or the hub where bolts are used'),
  rotorMinimumThicknessMm: perWheel(positive(60)).optional().describe('Stamped minimum thickness, mm (iron)'),
  rotorMinimumWeightG: perWheel(positive(20000)).optional().describe('Stamped minimum weight, g (carbon)'),
  drumMaximumDiameterMm: perWheel(positive(600)).optional().describe('Maximum diameter marked in the drum, mm'),
  coldPressurePlacardKpa: perAxle(positive(800)).optional().describe('Placard cold tyre pressure, kPa gauge'),
  topSpeedKmh: positive(500).optional().describe("The car's own top speed, km/h"),
  steering: z.enum(['rack', 'box', 'other']).optional().describe('Kind of steering gear: rack and pinion, or a box'),
  hubBearing: perAxle(z.enum(['sealed', 'taper']))
    .optional()
    .describe('Wheel bearing kind per axle; taper bearings are set with end float'),
  hubEndFloatMaximumMm: perAxle(positive(1))
    .optional()
    .describe('Most end float of a taper bearing, from the handbook, mm'),
  axleLoadKg: perAxle(positive(3000)).optional().describe('Load per axle with driver, kg'),
  highVoltageV: positive(1500).optional().describe('Working voltage of the traction battery, V'),
  baseline: z
    .strictObject({
      camberDeg: perWheel(z.number().min(-15).max(15)).optional().describe('Camber per wheel, degrees'),
      toeMm: perWheel(z.number().min(-30).max(30)).optional().describe('Toe per wheel, mm, toe-in positive'),
      casterDeg: perWheel(z.number().min(-5).max(20)).optional().describe('Caster per wheel, degrees'),
      cornerWeightKg: perWheel(positive(2000)).optional().describe('Corner weights, kg'),
      rideHeightMm: perWheel(positive(500)).optional().describe('Ride height, mm'),
    })
    .optional()
    .describe('Recorded baseline the set-up record is compared with'),
});
export type Vehicle = z.infer<typeof Vehicle>;

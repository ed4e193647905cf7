import type { RotorSettings } from './brake-heat-rotor.ts';
import { type BrakeHeatSettings, solvePeakC, type StepLimits } from './brake-heat-session.ts';
import type { PerAxle } from './brake-heat-duty.ts';
import { TradeRefusal } from './calculation.ts';

/** How far the peaks move, K, when one value is lower or higher and all others stay; absent: that cannot be. */
export interface BrakeHeatSensitivity {
  name: string;
  change: '±10 %' | '±10 K';
  lower?: PerAxle;
  higher?: PerAxle;
}

interface Knob {
  name: string;
  /** `undefined` where the value plays no part */
  read: (settings: BrakeHeatSettings) => number | undefined;
  turn: (settings: BrakeHeatSettings, value: number) => BrakeHeatSettings;
  /** a temperature is moved by 10 K: a share of degrees Celsius means nothing */
  kelvin?: true;
  /** plays a part on one axle only */
  axle?: 'front' | 'rear';
  /** a share cannot exceed the whole */
  share?: true;
}

type Numbers = { [K in keyof BrakeHeatSettings]: BrakeHeatSettings[K] extends number | undefined ? K : never };
type NumberKey = NonNullable<Numbers[keyof BrakeHeatSettings]>;
type RotorKey = Exclude<keyof RotorSettings, 'heat'>;

const plain = (name: NumberKey, more: Pick<Knob, 'kelvin' | 'share'> = {}): Knob => ({
  name,
  read: (settings) => settings[name],
  turn: (settings, value) => ({ ...settings, [name]: value }),
  ...more,
});

/** Plays a part only where the front share is worked out from the axle loads. */
const axle = (name: 'frontWeightShare' | 'cgHeightMm' | 'wheelbaseMm'): Knob => ({
  ...plain(name),
  read: (settings) => (settings.frontShare === undefined ? settings[name] : undefined),
});

const air = (name: 'still' | 'factor' | 'exponent'): Knob => ({
  name: `convection.${name}`,
  read: ({ convection }) => convection[name],
  turn: (settings, value) => ({ ...settings, convection: { ...settings.convection, [name]: value } }),
});

const ROTOR_KEYS: readonly (readonly [RotorKey, string])[] = [
  ['massKg', 'massKg'],
  ['areaM2', 'areaM2'],
  ['radiatingAreaM2', 'radiatingAreaM2'],
  ['emissivity', 'emissivity'],
  ['rotorShare', 'rotorShare'],
  ['heatFactor', 'specificHeat'],
];

const rotors = (side: 'front' | 'rear'): readonly Knob[] =>
  ROTOR_KEYS.map(([key, name]) => ({
    name: `${side}.${name}`,
    axle: side,
    read: (settings) => settings[side][key],
    turn: (settings, value) => ({ ...settings, [side]: { ...settings[side], [key]: value } }),
    ...(key === 'rotorShare' || key === 'emissivity' ? { share: true } : {}),
  }));

/** The lap length plays no part where the lap time is known. */
const lapLength: Knob = {
  ...plain('lapLengthM'),
  read: ({ lapTimeS, lapLengthM }) => (lapTimeS === undefined ? lapLengthM : undefined),
};

const KNOBS: readonly Knob[] = [
  plain('massKg'),
  plain('lapTimeS'),
  lapLength,
  plain('decelerationG'),
  plain('frontShare', { share: true }),
  axle('frontWeightShare'),
  axle('cgHeightMm'),
  axle('wheelbaseMm'),
  plain('dragAreaM2'),
  plain('airDensityKgM3'),
  plain('rollingCoefficient'),
  plain('ambientC', { kelvin: true }),
  plain('startC', { kelvin: true }),
  air('still'),
  air('factor'),
  air('exponent'),
  ...rotors('front'),
  ...rotors('rear'),
];

/**
 * Moves each value the session depends on by ±10 % (temperatures ±10 K), one at a time, and gives the change of both
 * peaks in K. Shares stop at the whole. What takes no part (such as the wheelbase when the front share is given) is
 * left out; a value that cannot be, such as a lap shorter than its stops, leaves its side out.
 *
 * @throws TradeRefusal as `solveBrakeHeat` for the settings themselves
 * @see `solveBrakeHeat`; the differences are arithmetic
 */
export function brakeHeatSensitivity(settings: BrakeHeatSettings, limits: StepLimits): BrakeHeatSensitivity[] {
  const base = { front: solvePeakC(settings, 'front', limits), rear: solvePeakC(settings, 'rear', limits) };
  return KNOBS.flatMap((knob) => {
    const value = knob.read(settings);
    if (value === undefined) return [];
    const step = knob.kelvin === true ? 10 : value * 0.1;
    const moved = (to: number): PerAxle | undefined => {
      const turned = knob.turn(settings, knob.share === true ? Math.min(to, 1) : to);
      return peakChange(base, turned, limits, knob.axle);
    };
    const lower = moved(value - step);
    const higher = moved(value + step);
    return [
      {
        name: knob.name,
        change: knob.kelvin === true ? ('±10 K' as const) : ('±10 %' as const),
        ...(lower === undefined ? {} : { lower }),
        ...(higher === undefined ? {} : { higher }),
      },
    ];
  });
}

function peakChange(
  base: PerAxle,
  turned: BrakeHeatSettings,
  limits: StepLimits,
  only: 'front' | 'rear' | undefined,
): PerAxle | undefined {
  const change = (axle: 'front' | 'rear'): number =>
    only === undefined || only === axle ? solvePeakC(turned, axle, limits) - base[axle] : 0;
  try {
    return { front: change('front'), rear: change('rear') };
  } catch (error) {
    if (error instanceof TradeRefusal) return undefined;
    throw error;
  }
}

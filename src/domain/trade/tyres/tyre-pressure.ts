import { z } from 'zod';
import { convert, roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type Source } from '../calculation.ts';
import { atmosphereFields, readAtmosphere, ZERO_CELSIUS_K } from '../standard-atmosphere.ts';

const kelvin = (celsius: number, pointer: string): number => {
  const absolute = celsius + ZERO_CELSIUS_K;
  if (!(absolute > 0)) throw notComputable(pointer, 'below-absolute-zero', `${celsius} °C is not above −273.15 °C.`);
  return absolute;
};

/**
 * Gauge pressure in kPa of the same air at another temperature and constant volume:
 * `p2 = (p1 + atmosphere)·T2/T1 − atmosphere`, temperatures in °C, atmosphere absolute in kPa.
 *
 * @throws NotComputable `below-absolute-zero` at `/fromC` or `/toC`; `no-air` at `/coldKpa` for an absolute pressure that
 *   is not above 0
 * @see gas law at constant volume; worked in a university magazine on chemistry (secondary): 30.00 psi at 20 °C is 23.14
 *   psi at −25 °C
 */
export function hotPressureKpa(coldKpa: number, fromC: number, toC: number, atmKpa: number): number {
  if (!(coldKpa + atmKpa > 0)) throw notComputable('/coldKpa', 'no-air', 'The absolute pressure is not above 0.');
  return ((coldKpa + atmKpa) * kelvin(toC, '/toC')) / kelvin(fromC, '/fromC') - atmKpa;
}

/**
 * Cold gauge pressure in kPa to set at `coldC` so that the tyre has `hotKpa` at `hotC`: `hotPressureKpa` backwards.
 *
 * @throws NotComputable `below-absolute-zero`, `no-air` (see `hotPressureKpa`)
 * @see gas law at constant volume
 */
export function coldPressureForHotKpa(hotKpa: number, coldC: number, hotC: number, atmKpa: number): number {
  return hotPressureKpa(hotKpa, hotC, coldC, atmKpa);
}

const SOURCES: readonly Source[] = [
  {
    title: 'Gas law at constant volume, on absolute pressure and temperature; worked in a university magazine',
    standing: 'secondary',
  },
  { title: 'US Standard Atmosphere 1976, as quoted in handbooks: air pressure by altitude', standing: 'secondary' },
];

const TEMPERATURE = { min: -60, max: 200 };
const PRESSURE = { min: 0, max: 1500 };
const input = z.strictObject({
  coldKpa: measure('kPa', 'Gauge pressure cold, to forecast the hot one', PRESSURE).optional(),
  hotKpa: measure('kPa', 'Gauge pressure wanted hot, to find the cold one to set', PRESSURE).optional(),
  coldC: measure('°C', 'Temperature of the air in the tyre when cold', TEMPERATURE),
  hotC: measure('°C', 'Temperature of the air in the tyre when hot', TEMPERATURE),
  ...atmosphereFields,
});
type Input = z.infer<typeof input>;

const result = z.object({
  coldKpa: z.number().describe('Gauge pressure cold, kPa'),
  hotKpa: z.number().describe('Gauge pressure hot, kPa'),
  coldPsi: z.number().describe('Gauge pressure cold, psi'),
  hotPsi: z.number().describe('Gauge pressure hot, psi'),
  risePerTenDegreesKpa: z.number().describe('Change for 10 °C at the cold pressure, kPa'),
  atmosphereKpa: z.number().describe('Air pressure reckoned with, kPa absolute'),
});

const psi = (kpa: number): number => convert(kpa, 'kPa', 'psi') ?? Number.NaN;

function solve(asked: Input, atmKpa: number): { coldKpa: number; hotKpa: number } {
  const { coldKpa, hotKpa, coldC, hotC } = asked;
  if (coldKpa !== undefined && hotKpa !== undefined) {
    throw notComputable('/hotKpa', 'given-twice', 'Give the cold or the hot pressure; the other is worked out.');
  }
  if (coldKpa !== undefined)
    return { coldKpa, hotKpa: inflated(hotPressureKpa(coldKpa, coldC, hotC, atmKpa), '/coldKpa') };
  if (hotKpa !== undefined) {
    return { coldKpa: inflated(coldPressureForHotKpa(hotKpa, coldC, hotC, atmKpa), '/hotKpa'), hotKpa };
  }
  throw notComputable('/coldKpa', 'missing', 'Give the cold or the hot pressure.');
}

function inflated(gaugeKpa: number, pointer: string): number {
  if (gaugeKpa >= 0) return gaugeKpa;
  throw notComputable(
    pointer,
    'below-atmosphere',
    `The other pressure would be ${roundTo(gaugeKpa, 0)} kPa: below the air outside.`,
  );
}

const CONSTANT_VOLUME: Assumption = {
  name: 'volume and gas',
  value: 'dry air, the tyre does not grow; moist air rises more',
  standing: 'common-practice',
};

/** Hot tyre pressure from cold, or the cold pressure that gives a hot one. */
export const TYRE_PRESSURE = calculation({
  name: 'tyre-pressure',
  title: 'Tyre pressure, cold and hot',
  summary: 'Forecasts the hot gauge pressure from the cold one, or finds the cold pressure for a wanted hot one.',
  input,
  result,
  sources: SOURCES,
  example: { coldKpa: 180, coldC: 15, hotC: 75 },
  compute(asked) {
    const { kpa: atm, assumptions } = readAtmosphere(asked);
    const { coldKpa, hotKpa } = solve(asked, atm);
    const [coldK, hotK] = [roundTo(asked.coldC + ZERO_CELSIUS_K, 2), roundTo(asked.hotC + ZERO_CELSIUS_K, 2)];
    const forward = asked.coldKpa !== undefined;
    const [from, ratio] = forward ? [coldKpa, `${hotK}/${coldK}`] : [hotKpa, `${coldK}/${hotK}`];
    const air = roundTo(atm, 2);
    return {
      result: {
        coldKpa: roundTo(coldKpa, 1),
        hotKpa: roundTo(hotKpa, 1),
        coldPsi: roundTo(psi(coldKpa), 1),
        hotPsi: roundTo(psi(hotKpa), 1),
        risePerTenDegreesKpa: roundTo(((coldKpa + atm) * 10) / coldK, 1),
        atmosphereKpa: air,
      },
      steps: [
        {
          what: forward ? 'hot gauge pressure' : 'cold gauge pressure',
          formula: forward ? 'hot = (cold + air)·T_hot/T_cold − air' : 'cold = (hot + air)·T_cold/T_hot − air',
          numbers: `(${from} kPa + ${air} kPa)·${ratio} − ${air} kPa`,
          result: `${roundTo(forward ? hotKpa : coldKpa, 1)} kPa`,
        },
      ],
      assumptions: [...assumptions, CONSTANT_VOLUME],
      cautions: asked.hotC < asked.coldC ? ['The hot temperature is below the cold one: check which is which.'] : [],
    };
  },
});

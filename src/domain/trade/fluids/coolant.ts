import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { convert, roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type Source, type WorkStep } from '../calculation.ts';
import { atmosphereFields, readAtmosphere, SEA_LEVEL_KPA } from '../standard-atmosphere.ts';
import {
  antoineBoilingC,
  boilingUnderPressureC,
  FREEZING,
  FREEZING_TABLES,
  type Glycol,
  glycolBoilingAtSeaLevelC,
  glycolFreezingC,
  glycolPercentsFor,
  GLYCOLS,
  MMHG_PER_KPA,
  waterBoilingC,
  waterShareOf,
} from './coolant-glycol.ts';

/**
 * Temperature in °C at which pure water boils under a cap (gauge kPa) where the air presses with `atmKpa`.
 *
 * @throws NotComputable `outside-steam-table`
 * @see IAPWS R7-97(2012) saturation line (secondary)
 */
export const waterBoilingUnderCapC = (capKpa: number, atmKpa: number): number => waterBoilingC(capKpa + atmKpa);

/**
 * The rule of thumb: 3 °F for each psi of the cap on top of the boiling point at sea level (°F). Exact at 5 psi for
 * water; 7 °F too high at 15 psi, 28 °F too high at 30. Never throws.
 *
 * @see club and forum pages (secondary); for comparison only
 */
export const ruleOfThumbBoilingF = (boilsAtSeaLevelF: number, capPsi: number): number => boilsAtSeaLevelF + 3 * capPsi;

const SOURCES: readonly Source[] = [
  { title: 'IAPWS R7-97(2012), saturation line of water, as quoted by open implementations', standing: 'secondary' },
  { title: 'Antoine constants of water on an engineering page, for comparison', standing: 'secondary' },
  { title: 'Half ethylene glycol boils at 223 °F at 1 atm', standing: 'secondary' },
  {
    title: 'Freezing tables: ethylene glycol of an engine maker, propylene glycol of a handbook',
    standing: 'secondary',
  },
];

const input = z.strictObject({
  capKpa: measure('kPa', 'Gauge pressure the cap is marked with', { min: 0, max: 350 }),
  glycol: z
    .enum(['none', ...GLYCOLS])
    .describe('Glycol in the coolant; none for water')
    .default('none'),
  glycolPercent: measure('%', 'Glycol in the coolant, by volume', { min: 0, max: 100 }).optional(),
  boilsAtSeaLevelC: measure('°C', 'Boiling point at 1 atm from the container', { min: 95, max: 220 }).optional(),
  freezesAtC: measure('°C', 'Freezing point from a refractometer or the container', { min: -80, max: 0 }).optional(),
  hottestC: measure('°C', 'Hottest coolant seen or expected', { min: 0, max: 200 }).optional(),
  ...atmosphereFields,
});
type Input = z.infer<typeof input>;

const result = z.object({
  absoluteKpa: z.number().describe('Pressure in the system, kPa absolute'),
  boilingC: z.number().describe('Boiling point of the coolant under the cap, °C'),
  boilingF: z.number().describe('The same, °F'),
  waterBoilingC: z.number().describe('Boiling point of pure water under the cap, °C'),
  boilingAtSeaLevelC: z.number().describe('Boiling point of the coolant at 1 atm without a cap, °C'),
  boilingWithoutCapC: z.number().describe('Boiling point of the coolant at this place when the cap does not hold, °C'),
  ruleOfThumbF: z.number().describe('By the rule of 3 °F per psi, °F'),
  ruleOfThumbErrorF: z.number().describe('Rule of thumb less the boiling point, °F; positive promises too much'),
  freezingC: z.number().nullable().describe('Freezing point, °C; null where the table ends or nothing is known'),
  marginC: z.number().nullable().describe('Boiling point less the hottest coolant, °C; null where none is given'),
});
type Result = z.infer<typeof result>;

const fahrenheit = (celsius: number): number => convert(celsius, '°C', '°F') ?? Number.NaN;
const psi = (kpa: number): number => convert(kpa, 'kPa', 'psi') ?? Number.NaN;

const isWater = ({ glycol, boilsAtSeaLevelC }: Input): boolean => glycol === 'none' && boilsAtSeaLevelC === undefined;

/** °C at 1 atm: as given, water, or by the glycol content. */
function boilsAtSeaLevel({ boilsAtSeaLevelC, glycol, glycolPercent }: Input): number {
  if (glycol === 'none' && glycolPercent !== undefined && glycolPercent > 0) {
    throw notComputable('/glycol', 'which-glycol', 'Say which glycol is in the coolant.');
  }
  if (boilsAtSeaLevelC !== undefined) return boilsAtSeaLevelC;
  if (glycol === 'none') return waterBoilingC(SEA_LEVEL_KPA);
  if (glycolPercent === undefined)
    throw notComputable('/glycolPercent', 'missing', 'Say how much glycol is in the coolant.');
  return glycolBoilingAtSeaLevelC(glycol, glycolPercent);
}

function freezesAt(asked: Input): number | null {
  const { freezesAtC, glycol, glycolPercent } = asked;
  if (freezesAtC !== undefined) return freezesAtC;
  if (glycol === 'none') return isWater(asked) ? 0 : null;
  return (glycolPercent === undefined ? undefined : glycolFreezingC(glycol, glycolPercent)) ?? null;
}

function assumptionsFor(asked: Input): Assumption[] {
  if (isWater(asked)) return [];
  const made: Assumption[] = [];
  if (asked.boilsAtSeaLevelC === undefined) {
    const standing = asked.glycol === 'ethylene' ? 'derived' : 'from-memory';
    made.push({ name: 'boilsAtSeaLevelC', value: 'by the glycol content, from one published point at 50 %', standing });
  }
  made.push({
    name: 'boiling under pressure',
    value: 'glycol lowers the vapour pressure of water by the same share at any temperature',
    standing: 'derived',
  });
  if (asked.freezesAtC === undefined && asked.glycol !== 'none') {
    made.push({ name: 'freezesAtC', value: FREEZING_TABLES, standing: 'secondary' });
  }
  return made;
}

function explain(asked: Input, atmKpa: number, worked: Result): WorkStep[] {
  const { absoluteKpa, boilingAtSeaLevelC, boilingC, ruleOfThumbF } = worked;
  const mmHg = absoluteKpa * MMHG_PER_KPA;
  const antoine = antoineBoilingC(mmHg, absoluteKpa > SEA_LEVEL_KPA ? 'high' : 'low');
  const share = roundTo(waterShareOf(boilingAtSeaLevelC), 3);
  return [
    {
      what: 'pressure in the system',
      formula: 'cap + air',
      numbers: `${roundTo(asked.capKpa, 1)} kPa + ${roundTo(atmKpa, 1)} kPa`,
      result: `${absoluteKpa} kPa absolute`,
    },
    {
      what: 'boiling point of the coolant',
      formula: 'steam table at pressure / share; share = 101.325 kPa / steam table at the boiling point at 1 atm',
      numbers: `steam table at ${absoluteKpa} kPa / ${share}`,
      result: `${boilingC} °C`,
    },
    {
      what: 'boiling point of pure water by Antoine, to compare',
      formula: 'B/(A − log10 mmHg) − C',
      numbers: `${roundTo(mmHg, 0)} mmHg`,
      result: `${roundTo(antoine, 1)} °C (steam table ${worked.waterBoilingC} °C)`,
    },
    {
      what: 'rule of thumb, to compare',
      formula: 'boiling point at 1 atm + 3 °F per psi',
      numbers: `${roundTo(fahrenheit(boilingAtSeaLevelC), 0)} °F + 3·${roundTo(psi(asked.capKpa), 1)}`,
      result: `${ruleOfThumbF} °F`,
    },
  ];
}

/** Boiling and freezing point of the coolant under its cap. */
export const COOLANT = calculation({
  name: 'coolant',
  title: 'Coolant boiling and freezing point',
  summary:
    'Boiling point of water or a glycol mix under the pressure of its cap at the altitude, and where it freezes.',
  input,
  result,
  sources: SOURCES,
  example: { capKpa: 103, glycol: 'ethylene', glycolPercent: 50, altitudeM: 600, hottestC: 110 },
  compute(asked) {
    const { kpa: atmKpa, assumptions } = readAtmosphere(asked);
    const atSeaLevelC = boilsAtSeaLevel(asked);
    const boilingC = boilingUnderPressureC(atSeaLevelC, asked.capKpa + atmKpa);
    const ruleF = ruleOfThumbBoilingF(fahrenheit(atSeaLevelC), psi(asked.capKpa));
    const freezingC = freezesAt(asked);
    const worked: Result = {
      absoluteKpa: roundTo(asked.capKpa + atmKpa, 1),
      boilingC: roundTo(boilingC, 1),
      boilingF: roundTo(fahrenheit(boilingC), 0),
      waterBoilingC: roundTo(waterBoilingUnderCapC(asked.capKpa, atmKpa), 1),
      boilingAtSeaLevelC: roundTo(atSeaLevelC, 1),
      boilingWithoutCapC: roundTo(boilingUnderPressureC(atSeaLevelC, atmKpa), 1),
      ruleOfThumbF: roundTo(ruleF, 0),
      ruleOfThumbErrorF: roundTo(ruleF - fahrenheit(boilingC), 0),
      freezingC: freezingC === null ? null : roundTo(freezingC, 0),
      marginC: asked.hottestC === undefined ? null : roundTo(boilingC - asked.hottestC, 0),
    };
    return {
      result: worked,
      steps: explain(asked, atmKpa, worked),
      assumptions: [...assumptions, ...assumptionsFor(asked)],
      cautions: [CAUTIONS['radiator-cap'].text],
    };
  },
});

/** The contents in % between which a mix does not freeze above a temperature. */
export interface GlycolBand {
  leastPercent: number;
  /** more glycol freezes earlier again; absent where the table ends before it turns */
  mostPercent?: number;
}

/**
 * The glycol contents in % that freeze at `freezingC` (below 0) or colder.
 *
 * @throws NotComputable at `/freezingC`: `not-below-zero`; `colder-than-table` when no mix of the table reaches it
 * @see tables of an engine maker (ethylene) and a handbook (propylene), secondary
 */
export function glycolBand(glycol: Glycol, freezingC: number): GlycolBand {
  if (!(freezingC < 0)) throw notComputable('/freezingC', 'not-below-zero', 'Water alone protects to 0 °C.');
  const percents = glycolPercentsFor(glycol, freezingC);
  const [leastPercent] = percents;
  if (leastPercent !== undefined) return { leastPercent, mostPercent: mostOf(glycol, freezingC, percents) };
  const coldest = Math.min(...FREEZING[glycol].map(([, celsius]) => celsius));
  throw notComputable('/freezingC', 'colder-than-table', `The table of ${glycol} glycol ends at ${coldest} °C.`);
}

function mostOf(glycol: Glycol, freezingC: number, percents: readonly number[]): number | undefined {
  const [endPercent = 0, endC = 0] = FREEZING[glycol].at(-1) ?? [];
  if (endC > freezingC) return percents.at(-1);
  return endPercent === 100 ? endPercent : undefined;
}

const MIX_SOURCES: readonly Source[] = [
  { title: 'Freezing point of ethylene glycol and water, table of an engine maker', standing: 'secondary' },
  { title: 'Freezing point of propylene glycol and water by volume, handbook table', standing: 'secondary' },
];

const mixInput = z.strictObject({
  glycol: z.enum(GLYCOLS).describe('Glycol to mix with water'),
  freezingC: measure('°C', 'Temperature the mix must not freeze above', { min: -80, max: 0 }),
  systemLitres: measure('l', 'Volume of the cooling system', { min: 0.5, max: 100 }).optional(),
});

const mixResult = z.object({
  leastPercent: z.number().describe('Least glycol that protects to the temperature, %'),
  mostPercent: z
    .number()
    .nullable()
    .describe('Most glycol: above it the mix freezes earlier again, %; null if unknown'),
  leastLitres: z.number().nullable().describe('Least glycol in the system, l; null without its volume'),
});

/** How much glycol protects to a temperature: from least to most. */
export const COOLANT_MIX = calculation({
  name: 'coolant-mix',
  title: 'Glycol for a freezing point',
  summary:
    'Least and most glycol that protect to a temperature: above about 60 % ethylene glycol freezes earlier again.',
  input: mixInput,
  result: mixResult,
  sources: MIX_SOURCES,
  example: { glycol: 'ethylene', freezingC: -30, systemLitres: 8 },
  compute({ glycol, freezingC, systemLitres }) {
    const { leastPercent, mostPercent } = glycolBand(glycol, freezingC);
    return {
      result: {
        leastPercent: roundTo(leastPercent, 1),
        mostPercent: mostPercent === undefined ? null : roundTo(mostPercent, 1),
        leastLitres: systemLitres === undefined ? null : roundTo((systemLitres * leastPercent) / 100, 2),
      },
      steps: [
        {
          what: 'glycol content',
          formula: 'contents at which the table, straight between its points, is at the temperature or colder',
          numbers: `${glycol}, ${freezingC} °C`,
          result: `${roundTo(leastPercent, 1)} % to ${mostPercent === undefined ? 'the end of the table' : `${roundTo(mostPercent, 1)} %`}`,
        },
      ],
      assumptions: [{ name: 'freezing table', value: FREEZING_TABLES, standing: 'secondary' }],
      cautions: [
        'Some venues forbid glycol because a spill stays slippery. Check the mix with a refractometer or hydrometer.',
      ],
    };
  },
});

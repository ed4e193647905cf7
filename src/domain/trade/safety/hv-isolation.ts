import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { formatQuantity, roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type WorkStep } from '../calculation.ts';

/** What is connected to the high-voltage bus; `connected`: direct and alternating current joined by conduction. */
export const HV_SYSTEMS = ['dc', 'ac', 'connected'] as const;
export type HvSystem = (typeof HV_SYSTEMS)[number];

/** UNECE Regulation 100, 5.1.3.1: least isolation of separate buses, Ω per volt of working voltage. */
export const ISOLATION_LIMIT_DC = 100;
/** UNECE Regulation 100, 5.1.3.1 for alternating current alone and 5.1.3.2 for connected buses, Ω/V. */
export const ISOLATION_LIMIT_AC = 500;

/**
 * The least isolation resistance per volt of working voltage, Ω/V. Never throws.
 *
 * @param acProtected of a connected system: the alternating-current part is doubly insulated or in a robust housing
 * @see UNECE Regulation 100, 5.1.3.1 and 5.1.3.2
 */
export function isolationLimit(system: HvSystem, acProtected = false): number {
  if (system === 'dc') return ISOLATION_LIMIT_DC;
  return system === 'connected' && acProtected ? ISOLATION_LIMIT_DC : ISOLATION_LIMIT_AC;
}

/**
 * Isolation resistance (Ω) per volt of working voltage (V), Ω/V.
 *
 * @throws NotComputable `/resistance` below 0, `/workingVoltage` not above 0
 * @see UNECE Regulation 100, isolation measurement, last step
 */
export function ohmPerVolt(resistanceOhm: number, workingVoltageV: number): number {
  if (!(resistanceOhm >= 0)) throw notComputable('/resistance', 'negative', 'A resistance is 0 Ω or more.');
  if (!(workingVoltageV > 0)) throw notComputable('/workingVoltage', 'not-positive', 'A working voltage is above 0 V.');
  return resistanceOhm / workingVoltageV;
}

/**
 * The least isolation resistance (Ω) that a working voltage (V) needs.
 *
 * @throws NotComputable `/workingVoltage` not above 0
 * @see UNECE Regulation 100, 5.1.3
 */
export function isolationNeeded(workingVoltageV: number, system: HvSystem, acProtected = false): number {
  if (!(workingVoltageV > 0)) throw notComputable('/workingVoltage', 'not-positive', 'A working voltage is above 0 V.');
  return isolationLimit(system, acProtected) * workingVoltageV;
}

/** Readings of the two-step measurement with a known resistor between one pole and the body. */
export interface IsolationReadings {
  /** Ro: the known resistor, Ω */
  knownResistorOhm: number;
  /** Ub: voltage of the bus, V */
  busVoltageV: number;
  /** U1: the larger of the two voltages from a pole to the body, without the resistor, V */
  poleVoltageV: number;
  /** U1′: the same with the resistor across that pole and the body, V */
  poleVoltageWithResistorV: number;
}

/**
 * Isolation resistance in Ω from the readings: `Ri = Ro·Ub·(1/U1′ − 1/U1)`.
 *
 * @throws NotComputable below `/readings` for readings that cannot be: a pole above the bus or below half of it (then
 * it is not the larger one), a voltage that does not drop with the resistor (nothing can be computed from it)
 * @see UNECE Regulation 100, annex 5A, fourth step
 */
export function isolationFromReadings(readings: IsolationReadings): number {
  const { knownResistorOhm, busVoltageV, poleVoltageV, poleVoltageWithResistorV } = readings;
  for (const [name, value] of Object.entries(readings)) {
    if (!(value > 0))
      throw notComputable(`/readings/${READING_FIELD[name] ?? name}`, 'not-positive', 'Must be above 0.');
  }
  if (poleVoltageV > busVoltageV) {
    throw notComputable(
      '/readings/poleVoltage',
      'above-bus',
      'A pole cannot be further from the body than the whole bus.',
    );
  }
  // Both voltages are of two equal poles where they are alike but for rounding.
  if (poleVoltageV < (busVoltageV / 2) * (1 - 1e-9)) {
    throw notComputable(
      '/readings/poleVoltage',
      'smaller-pole',
      'Below half the bus voltage: the other pole has the larger voltage. Measure there, with the resistor too.',
    );
  }
  if (poleVoltageWithResistorV >= poleVoltageV) {
    throw notComputable(
      '/readings/poleVoltageWithResistor',
      'no-drop',
      'The voltage must drop when the resistor is connected; without a drop nothing can be computed.',
    );
  }
  return knownResistorOhm * busVoltageV * (1 / poleVoltageWithResistorV - 1 / poleVoltageV);
}

const READING_FIELD: Readonly<Record<string, string>> = {
  knownResistorOhm: 'knownResistor',
  busVoltageV: 'busVoltage',
  poleVoltageV: 'poleVoltage',
  poleVoltageWithResistorV: 'poleVoltageWithResistor',
};

const Readings = z
  .strictObject({
    knownResistor: measure('Ω', 'Ro: the known resistor', { min: 1, max: 1e8 }),
    busVoltage: measure('V', 'Ub: voltage of the bus', { min: 1, max: 1500 }),
    poleVoltage: measure('V', 'U1: the larger voltage from a pole to the body', { min: 0.1, max: 1500 }),
    poleVoltageWithResistor: measure('V', 'U1′: the same with the resistor connected', { min: 0.1, max: 1500 }),
  })
  .describe('The two-step measurement by a trained person, instead of a resistance');

const Input = z.strictObject({
  workingVoltage: measure('V', 'Working voltage of the high-voltage bus', { min: 1, max: 1500 }),
  system: z.enum(HV_SYSTEMS).describe('dc, ac, or connected: both joined by conduction, as in a running drive'),
  acProtected: z
    .boolean()
    .optional()
    .describe('Of a connected system: the AC part is doubly insulated or robustly housed'),
  resistance: measure('Ω', 'Isolation resistance from a report or meter', { min: 0, max: 1e11 }).optional(),
  readings: Readings.optional(),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  resistanceOhm: z.number().describe('Isolation resistance, Ω'),
  ohmPerVolt: z.number().describe('Isolation resistance per volt of working voltage, Ω/V'),
  limitOhmPerVolt: z.number().describe('Least isolation, Ω/V'),
  neededOhm: z.number().describe('Least isolation resistance at this working voltage, Ω'),
  isolated: z.boolean().describe('Whether the limit is met; false means do not touch, do not drive'),
});

function resistanceOf(input: Input): number {
  if ((input.resistance === undefined) === (input.readings === undefined)) {
    throw notComputable('', 'one-of', 'Give either /resistance or /readings.');
  }
  if (input.resistance !== undefined) return input.resistance;
  const { knownResistor = 0, busVoltage = 0, poleVoltage = 0, poleVoltageWithResistor = 0 } = input.readings ?? {};
  return isolationFromReadings({
    knownResistorOhm: knownResistor,
    busVoltageV: busVoltage,
    poleVoltageV: poleVoltage,
    poleVoltageWithResistorV: poleVoltageWithResistor,
  });
}

function workSteps(input: Input, resistanceOhm: number, limit: number): WorkStep[] {
  const { readings, workingVoltage } = input;
  const measured: WorkStep[] = readings
    ? [
        {
          what: 'Isolation resistance',
          formula: 'Ri = Ro·Ub·(1/U1′ − 1/U1)',
          numbers: `${readings.knownResistor} Ω·${readings.busVoltage} V·(1/${readings.poleVoltageWithResistor} V − 1/${readings.poleVoltage} V)`,
          result: formatQuantity(roundTo(resistanceOhm, 0), 'Ω'),
        },
      ]
    : [];
  return [
    ...measured,
    {
      what: 'Per volt of working voltage',
      formula: 'Ri / U',
      numbers: `${roundTo(resistanceOhm, 0)} Ω / ${workingVoltage} V`,
      result: formatQuantity(roundTo(resistanceOhm / workingVoltage, 1), 'Ω/V'),
    },
    {
      what: 'Least isolation resistance',
      formula: 'limit·U',
      numbers: `${limit} Ω/V·${workingVoltage} V`,
      result: formatQuantity(limit * workingVoltage, 'Ω'),
    },
  ];
}

function resistorCaution(input: Input, limit: number): string[] {
  const wanted = limit * input.workingVoltage;
  const used = input.readings?.knownResistor;
  if (used === undefined || Math.abs(used - wanted) <= 0.2 * wanted) return [];
  return [
    `The known resistor should be near ${formatQuantity(wanted, 'Ω')} (limit times working voltage, ± 20 %); ${formatQuantity(used, 'Ω')} measures less exactly.`,
  ];
}

const AC_OPEN: Assumption = {
  name: 'Alternating-current part',
  value: 'not doubly insulated and not in a robust housing, because nothing else was stated: the stricter limit',
  standing: 'published',
};

/** `hv-isolation`: isolation resistance per volt of a high-voltage system against UNECE Regulation 100. */
export const HV_ISOLATION = calculation({
  name: 'hv-isolation',
  title: 'High-voltage isolation',
  summary: 'Isolation resistance per volt of working voltage, from a resistance or from the two-step measurement.',
  input: Input,
  result: Result,
  sources: [
    { title: 'UNECE Regulation 100, 5.1.3.1 and 5.1.3.2 (limits)', standing: 'published' },
    { title: 'UNECE Regulation 100, annex 5A (measurement)', standing: 'published' },
  ],
  example: { workingVoltage: { value: 400, unit: 'V' }, system: 'dc', resistance: { value: 60, unit: 'kohm' } },
  compute(input) {
    const limit = isolationLimit(input.system, input.acProtected);
    const resistanceOhm = resistanceOf(input);
    const perVolt = ohmPerVolt(resistanceOhm, input.workingVoltage);
    return {
      result: {
        resistanceOhm: roundTo(resistanceOhm, 0),
        ohmPerVolt: roundTo(perVolt, 1),
        limitOhmPerVolt: limit,
        neededOhm: limit * input.workingVoltage,
        isolated: perVolt >= limit,
      },
      steps: workSteps(input, resistanceOhm, limit),
      assumptions: input.system === 'connected' && input.acProtected === undefined ? [AC_OPEN] : [],
      cautions: [CAUTIONS['high-voltage'].text, ...resistorCaution(input, limit)],
    };
  },
});

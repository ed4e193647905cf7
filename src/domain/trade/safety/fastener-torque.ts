import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { formatQuantity as show, roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type WorkStep } from '../calculation.ts';
import { parseThread, PROPERTY_CLASSES, proofLoadOf, type ProofLoad, type Thread } from './fastener-torque-threads.ts';

/**
 * Nut factors K by condition: of each typical range the end that gives the higher preload for a torque, but for dry
 * threads the usual 0.20. Ranges seen: dry 0.20 to 0.25, oiled 0.15 to 0.20, anti-seize 0.12 to 0.16, rusty 0.30.
 *
 * @see engineering pages on T = K·D·F (secondary)
 */
export const NUT_FACTORS = { dry: 0.2, oiled: 0.15, 'anti-seize': 0.12, rusty: 0.3 } as const;
export type ThreadCondition = keyof typeof NUT_FACTORS;

/** How far the preload lies from the expected when tightened by torque alone, ± %. Seen as 25 to 30 (secondary). */
export const PRELOAD_SCATTER_PERCENT = 30;

function assertPositive(pointer: string, value: number): void {
  if (!(Number.isFinite(value) && value > 0)) throw notComputable(pointer, 'not-positive', 'Must be a number above 0.');
}

/**
 * Tightening torque for a preload, N·m: T = K·D·F.
 *
 * @throws NotComputable when preload (N), diameter (mm) or nut factor is not positive
 * @see engineering pages on the nut factor (secondary)
 */
export function torqueForPreload(preloadN: number, diameterMm: number, nutFactor: number): number {
  assertPositive('/preloadN', preloadN);
  assertPositive('/thread', diameterMm);
  assertPositive('/nutFactor', nutFactor);
  return (nutFactor * diameterMm * preloadN) / 1000;
}

/**
 * Preload that a tightening torque gives, N: F = T/(K·D).
 *
 * @throws NotComputable when torque (N·m), diameter (mm) or nut factor is not positive
 * @see engineering pages on the nut factor (secondary)
 */
export function preloadForTorque(torqueNm: number, diameterMm: number, nutFactor: number): number {
  assertPositive('/torqueNm', torqueNm);
  assertPositive('/thread', diameterMm);
  assertPositive('/nutFactor', nutFactor);
  return (1000 * torqueNm) / (nutFactor * diameterMm);
}

/**
 * Engaged thread over the diameter: the shorter of the measured length (mm) and turns × pitch, `undefined` when
 * neither is known (turns say nothing without the pitch). About 1 is what the trade asks for.
 *
 * Source: geometry; the limit is common practice. Total, never throws.
 */
export function engagementDiameters(
  engaged: { lengthMm?: number; turns?: number },
  thread: { diameterMm: number; pitchMm?: number },
): number | undefined {
  const { pitchMm } = thread;
  const byTurns = engaged.turns === undefined || pitchMm === undefined ? undefined : engaged.turns * pitchMm;
  const known = [engaged.lengthMm, byTurns].filter((length) => length !== undefined);
  return known.length === 0 ? undefined : Math.min(...known) / thread.diameterMm;
}

const Input = z.strictObject({
  thread: z.string().min(2).max(20).describe('Thread: M12x1.5, M12 (coarse), 3/8-16 or 1/2-20'),
  torqueNm: measure('N·m', 'Torque; give one of torque, preload or proof share', { min: 0.1, max: 3000 }).optional(),
  preloadN: measure('N', 'Preload', { min: 1, max: 1_000_000 }).optional(),
  proofSharePercent: measure('%', 'Preload as a share of the proof load', { min: 1, max: 100 }).optional(),
  propertyClass: z.enum(PROPERTY_CLASSES).optional().describe('ISO 898-1 property class of a metric fastener'),
  proofLoadN: measure('N', 'Proof load, where the class is not in the table', { min: 1, max: 2_000_000 }).optional(),
  condition: z
    .enum(['dry', 'oiled', 'anti-seize', 'rusty'])
    .optional()
    .describe('State of the threads, decides the nut factor (dry where absent)'),
  nutFactor: measure('1', 'Nut factor K where it is known', { min: 0.05, max: 0.6 }).optional(),
  scatterPercent: measure('%', 'How far the preload can lie from the expected, ± (30 where absent)', {
    min: 0,
    max: 60,
  }).optional(),
  engagedMm: measure('mm', 'Engaged length of thread', { min: 0, max: 200 }).optional(),
  turns: measure('turns', 'Full turns of engagement', { min: 0, max: 100 }).optional(),
  engagementNeeded: measure('1', 'Engagement asked for, in diameters (1 where absent)', {
    min: 0.3,
    max: 3,
  }).optional(),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  thread: z.string().describe('The thread as understood'),
  torqueNm: z.number().describe('Tightening torque, N·m'),
  preloadN: z.number().describe('Expected preload, N'),
  preloadLowN: z.number().describe('Preload at the low end of the scatter, N'),
  preloadHighN: z.number().describe('Preload at the high end of the scatter, N'),
  proofLoadN: z.number().nullable().describe('Proof load, N; null where it is not known'),
  proofSharePercent: z.number().nullable().describe('Expected preload over proof load, %'),
  againstProof: z
    .enum(['below', 'may-pass', 'past', 'unknown'])
    .describe('`may-pass`: the high end of the scatter is past the proof load'),
  engagementDiameters: z.number().nullable().describe('Engaged thread in diameters; null where it was not given'),
  engagementEnough: z.boolean().nullable().describe('At least what is asked for; null where it was not given'),
});
type Result = z.infer<typeof Result>;

/** A preload is not known any finer than that, and neither are the published proof loads. */
const toHundred = (newtons: number): number => 100 * Math.round(newtons / 100);

interface Basis {
  thread: Thread;
  nutFactor: number;
  proof: ProofLoad | undefined;
}

function basisOf(input: Input): Basis {
  const thread = parseThread(input.thread);
  if (thread === undefined)
    throw notComputable(
      '/thread',
      'not-a-thread',
      'Write it as M12x1.5, M12 or 1/2-20; sizes not in the table need a pitch.',
    );
  if (input.nutFactor !== undefined && input.condition !== undefined)
    throw notComputable('/nutFactor', 'one-of', 'Give either nutFactor or condition.');
  if (input.proofLoadN !== undefined && input.propertyClass !== undefined)
    throw notComputable('/proofLoadN', 'one-of', 'Give either proofLoadN or propertyClass.');
  if (input.propertyClass !== undefined && thread.series === 'inch')
    throw notComputable('/propertyClass', 'metric-only', 'Property classes are for metric threads: give proofLoadN.');
  const stated = input.proofLoadN;
  const proof: ProofLoad | undefined =
    stated === undefined
      ? input.propertyClass && proofLoadOf(thread, input.propertyClass)
      : { valueN: stated, standing: 'derived' };
  return { thread, nutFactor: input.nutFactor ?? NUT_FACTORS[input.condition ?? 'dry'], proof };
}

function preloadOf(input: Input, { thread, nutFactor, proof }: Basis): number {
  const given = [input.torqueNm, input.preloadN, input.proofSharePercent].filter((value) => value !== undefined);
  if (given.length !== 1)
    throw notComputable('/torqueNm', 'one-of', 'Give one of torqueNm, preloadN and proofSharePercent.');
  if (input.torqueNm !== undefined) return preloadForTorque(input.torqueNm, thread.diameterMm, nutFactor);
  if (input.preloadN !== undefined) return input.preloadN;
  if (proof === undefined)
    throw notComputable('/proofSharePercent', 'no-proof-load', 'A share needs the propertyClass or the proofLoadN.');
  return (proof.valueN * (input.proofSharePercent ?? 0)) / 100;
}

function standAgainst(preloadN: number, highN: number, proof: ProofLoad | undefined): Result['againstProof'] {
  if (proof === undefined) return 'unknown';
  if (preloadN > proof.valueN) return 'past';
  return highN > proof.valueN ? 'may-pass' : 'below';
}

function resultOf(input: Input, basis: Basis): Result {
  const { thread, nutFactor, proof } = basis;
  const preload = preloadOf(input, basis);
  const scatter = (input.scatterPercent ?? PRELOAD_SCATTER_PERCENT) / 100;
  const engaged = engagementDiameters({ lengthMm: input.engagedMm, turns: input.turns }, thread);
  return {
    thread: thread.name,
    torqueNm: roundTo(torqueForPreload(preload, thread.diameterMm, nutFactor), 1),
    preloadN: toHundred(preload),
    preloadLowN: toHundred(preload * (1 - scatter)),
    preloadHighN: toHundred(preload * (1 + scatter)),
    proofLoadN: proof === undefined ? null : toHundred(proof.valueN),
    proofSharePercent: proof === undefined ? null : roundTo((100 * preload) / proof.valueN, 1),
    againstProof: standAgainst(preload, preload * (1 + scatter), proof),
    engagementDiameters: engaged === undefined ? null : roundTo(engaged, 2),
    engagementEnough: engaged === undefined ? null : roundTo(engaged, 9) >= (input.engagementNeeded ?? 1),
  };
}

function stepsOf(input: Input, { thread, nutFactor, proof }: Basis, result: Result): WorkStep[] {
  const diameter = roundTo(thread.diameterMm, 3);
  const tighten: WorkStep =
    input.torqueNm === undefined
      ? {
          what: 'Torque',
          formula: 'T = K·D·F',
          numbers: `${nutFactor}·${diameter} mm·${result.preloadN} N`,
          result: show(result.torqueNm, 'N·m'),
        }
      : {
          what: 'Preload',
          formula: 'F = T/(K·D)',
          numbers: `${input.torqueNm} N·m/(${nutFactor}·${diameter} mm)`,
          result: show(result.preloadN, 'N'),
        };
  const share: WorkStep = {
    what: 'Share of the proof load',
    formula: 'F/Fp',
    numbers: `${result.preloadN}/${result.proofLoadN}`,
    result: show(result.proofSharePercent ?? 0, '%'),
  };
  const engagement: WorkStep = {
    what: 'Thread engagement, the shorter of length and turns × pitch',
    formula: 'min(l, n·P)/D',
    numbers: `min(${input.engagedMm ?? '–'}, ${input.turns ?? '–'}·${roundTo(thread.pitchMm, 3)})/${diameter}`,
    result: `${result.engagementDiameters} diameters`,
  };
  return [
    tighten,
    ...(proof === undefined ? [] : [share]),
    ...(result.engagementDiameters === null ? [] : [engagement]),
  ];
}

function assumptionsOf(input: Input, { thread, nutFactor, proof }: Basis): Assumption[] {
  const list: Assumption[] = [];
  if (input.nutFactor === undefined)
    list.push({
      name: `nut factor, ${input.condition ?? 'dry'} threads`,
      value: `${nutFactor}`,
      standing: 'secondary',
    });
  if (input.scatterPercent === undefined)
    list.push({ name: 'scatter of the preload', value: `± ${PRELOAD_SCATTER_PERCENT} %`, standing: 'secondary' });
  if (thread.coarseAssumed)
    list.push({ name: 'pitch', value: `coarse, ${show(thread.pitchMm, 'mm')}`, standing: 'from-memory' });
  if (proof !== undefined && input.proofLoadN === undefined)
    list.push({ name: 'proof load', value: proofText(proof), standing: proof.standing });
  if ((input.engagedMm ?? input.turns) !== undefined && input.engagementNeeded === undefined)
    list.push({ name: 'engagement asked for', value: '1 diameter', standing: 'common-practice' });
  return list;
}

const proofText = ({ valueN, areaMm2 }: ProofLoad): string =>
  `${show(toHundred(valueN), 'N')}${areaMm2 === undefined ? '' : ` on ${roundTo(areaMm2, 1)} mm²`}`;

function cautionsOf(result: Result): string[] {
  const proof = {
    below: [],
    unknown: ['The proof load is not known: nothing is said about how close the fastener is to yielding.'],
    'may-pass': ['Within the scatter of torque-controlled tightening this preload can pass the proof load.'],
    past: ['This preload is past the proof load: the fastener would yield. Do not tighten to it.'],
  }[result.againstProof];
  const short = result.engagementEnough === false ? ['Too little thread is engaged: do not go out with it.'] : [];
  return [
    CAUTIONS['wheel-fasteners'].text,
    "The maker's torque for the car goes before anything worked out here.",
    ...proof,
    ...short,
  ];
}

/** Torque and preload of a fastener, its share of the proof load, and thread engagement. */
export const FASTENER_TORQUE = calculation<Input, Result>({
  name: 'fastener-torque',
  title: 'Fastener torque and preload',
  summary: 'Preload from torque or torque from preload, against the proof load, with thread engagement.',
  input: Input,
  result: Result,
  sources: [
    { title: 'T = K·D·F with typical nut factors, engineering pages', standing: 'secondary' },
    { title: 'ISO 898-1: proof loads of coarse threads', standing: 'secondary' },
    { title: 'ISO 898-1 and ISO 724: stress area of other threads', standing: 'from-memory' },
  ],
  example: { thread: 'M12x1.5', torqueNm: 110, propertyClass: '10.9', turns: 9 },
  compute(input) {
    const basis = basisOf(input);
    const result = resultOf(input, basis);
    return {
      result,
      steps: stepsOf(input, basis, result),
      assumptions: assumptionsOf(input, basis),
      cautions: cautionsOf(result),
    };
  },
});

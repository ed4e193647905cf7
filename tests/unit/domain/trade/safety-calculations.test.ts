import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import type { Calculation } from '../../../../src/domain/trade/calculation.ts';
import { HV_ISOLATION } from '../../../../src/domain/trade/safety/hv-isolation.ts';
import { LABEL_VALIDITY } from '../../../../src/domain/trade/safety/label-validity-calculation.ts';
import { SUIT_PROTECTION } from '../../../../src/domain/trade/safety/label-validity.ts';
import { PLAY_DIAGNOSIS } from '../../../../src/domain/trade/suspension/play-diagnosis.ts';
import { ROLL_CLEARANCE } from '../../../../src/domain/trade/suspension/roll-clearance.ts';
import { SERVICE_DUE } from '../../../../src/domain/trade/line/service-due-calculation.ts';
import { SOUND_AVERAGE, SOUND_LEVEL } from '../../../../src/domain/trade/safety/sound-level.ts';
import { STEERING_PLAY } from '../../../../src/domain/trade/suspension/steering-play.ts';
import { SYMPTOM_TRIAGE } from '../../../../src/domain/trade/line/symptom-triage.ts';

interface Offered extends Omit<Calculation, 'compute'> {
  run: (body: unknown) => unknown;
}
const offer = <I, R>(of: Calculation<I, R>): Offered => ({
  ...of,
  run: (body) => of.result.parse(of.compute(of.input.parse(body)).result),
});
const ALL: readonly Offered[] = [
  offer(HV_ISOLATION),
  offer(LABEL_VALIDITY),
  offer(SUIT_PROTECTION),
  offer(PLAY_DIAGNOSIS),
  offer(ROLL_CLEARANCE),
  offer(SERVICE_DUE),
  offer(SOUND_LEVEL),
  offer(SOUND_AVERAGE),
  offer(STEERING_PLAY),
  offer(SYMPTOM_TRIAGE),
];

describe.each(ALL.map((of) => [of.name, of] as const))('%s', (_, of) => {
  it('works its example with a result of its own schema', () => {
    expect(of.run(of.example)).toBeTypeOf('object');
  });

  it('refuses unknown keys', () => {
    expect(of.input.safeParse({ ...(of.example as object), surprise: 1 }).success).toBe(false);
  });

  it('describes every field of input and result for the API document', () => {
    for (const [schema, io] of [
      [of.input, 'input'],
      [of.result, 'output'],
    ] as const) {
      const document = z.toJSONSchema(schema, { io });
      expect(undescribed(document)).toEqual([]);
    }
  });
});

/** Paths of properties without a description. */
function undescribed(schema: unknown, path = ''): string[] {
  if (typeof schema !== 'object' || schema === null) return [];
  return Object.entries(schema).flatMap(([key, value]) => {
    if (key !== 'properties') return undescribed(value, `${path}/${key}`);
    return Object.entries(value as Record<string, { description?: string }>).flatMap(([name, property]) => {
      // the value and unit of a quantity are described by the quantity
      const own = property.description === undefined && !['value', 'unit'].includes(name) ? [`${path}/${name}`] : [];
      return [...own, ...undescribed(property, `${path}/${name}`)];
    });
  });
}

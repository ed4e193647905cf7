import { CAUTIONS } from '../../domain/cautions.ts';
import { CALCULATIONS } from '../../domain/trade/calculations.ts';
import { PLOTS } from './plots.ts';
import type { CalculationList } from './schemas.ts';

export const JSON_TYPE = 'application/json';
export const SVG_TYPE = 'image/svg+xml';

/** What a computation answers in, the usual one first. */
export const mediaTypesOf = (name: string): string[] => (PLOTS.has(name) ? [JSON_TYPE, SVG_TYPE] : [JSON_TYPE]);

/** `tyre-age` → `calculateTyreAge`. */
export const operationIdOf = (name: string): string =>
  `calculate${name.replaceAll(/(?:^|-)([a-z])/g, (_, letter: string) => letter.toUpperCase())}`;

/** Every computation as the list shows it. */
export function listCalculations(): CalculationList {
  const calculations = CALCULATIONS.map(({ name, title, summary, sources, example }) => ({
    name,
    title,
    summary,
    sources: sources.map((source) => ({ ...source })),
    mediaTypes: mediaTypesOf(name),
    operation: {
      operationId: operationIdOf(name),
      method: 'POST',
      href: `/v1/calculations/${name}`,
      documentation: `/docs/#/Calculations/${operationIdOf(name)}`,
    },
    // Every body is an object: the documentation test reads them all through their schemas.
    example: example as Record<string, unknown>,
  }));
  return { calculations, caution: CAUTIONS.general.text };
}

import type { RuleFaultCode } from '../rule-fault.ts';

/** A fault inside an expression; `offset` counts UTF-16 units from its start. */
export interface CelFault {
  code: RuleFaultCode;
  detail: string;
  offset: number;
}

/** 1-based line and column of an offset, for people and editors. */
export function placeOf(source: string, offset: number): { offset: number; line: number; column: number } {
  const before = source.slice(0, offset).split('\n');
  return { offset, line: before.length, column: (before.at(-1)?.length ?? 0) + 1 };
}

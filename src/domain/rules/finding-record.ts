import type { FindingHead } from './build-finding.ts';
import type { Counts, Finding, Reading, Result } from './finding.ts';

/**
 * A constructor of plain objects, the same as a literal would make. V8 counts how long what a literal makes lives, and
 * after a long judgement puts all of it into the old generation from then on: judging takes three times as long.
 */
function plain<Fields extends readonly unknown[], Made extends object>(
  fill: (this: Made, ...fields: Fields) => void,
): new (
  ...fields: Fields
) => Made {
  fill.prototype = Object.prototype;
  return fill as unknown as new (
    ...fields: Fields
  ) => Made; // a function with `this` is one
}

type Quantity = NonNullable<Finding['margin']>;

const PlainQuantity = plain(function (this: Quantity, value: number, unit: string) {
  this.value = value;
  this.unit = unit;
});

const PlainReading = plain(function (this: { value: string | boolean }, value: string | boolean) {
  this.value = value;
});

/** A finding; every property is set, so that all have one shape. */
export const PlainFinding = plain(function (
  this: Finding,
  head: FindingHead,
  result: Result,
  counts: Counts,
  measured: Reading | undefined,
  limit: string | undefined,
  margin: Finding['margin'],
  source: Finding['source'],
  message: string,
  fix: string,
  conceded: Finding['conceded'],
) {
  this.ruleId = head.ruleId;
  this.title = head.title;
  this.position = head.position;
  this.result = result;
  this.effect = head.effect;
  this.counts = counts;
  this.items = head.items;
  this.measured = measured;
  this.limit = limit;
  this.margin = margin;
  this.source = source;
  this.basis = head.basis;
  this.message = message;
  this.fix = fix;
  this.watched = head.watched;
  this.conceded = conceded;
});

/** A number in its unit, as read or as a margin. */
export const quantity = (value: number, unit: string): Quantity => new PlainQuantity(value, unit);

/** A text, choice, date or yes/no as answered. */
export const reading = (value: string | boolean): Reading => new PlainReading(value);

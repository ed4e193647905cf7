import { CATALOGUE, findItem, itemApplies, positionsFor } from '../src/domain/catalogue/catalogue.ts';
import type { RawAnswers } from '../src/domain/declaration/declaration.ts';
import type { Vehicle } from '../src/domain/vehicle.ts';
import { GOOD_ANSWERS, type Subject } from './good-answers.ts';

/**
 * Answers to set, by cell: `oil.grade`, `pad.thickness@FL.in`; `@*` stands for every position of the car, `@F*` for
 * those that begin so.
 */
export type Changes = Readonly<Record<string, unknown>>;

/**
 * A complete declaration of a car in good order: every item that applies to it and that an entrant answers before
 * the event. It is met by every rule of every profile.
 */
export function goodAnswers(vehicle: Vehicle, startsOn: string): RawAnswers {
  const answers: RawAnswers = {};
  for (const item of CATALOGUE) {
    const good = GOOD_ANSWERS[item.key];
    if (good === undefined || !itemApplies(item, vehicle)) continue;
    const at = (position: string): unknown => good({ vehicle, startsOn, position } satisfies Subject);
    const positions = positionsFor(item, vehicle);
    answers[item.key] =
      positions === undefined ? at('') : Object.fromEntries(positions.map((position) => [position, at(position)]));
  }
  return answers;
}

function positionsOfChange(key: string, position: string, vehicle: Vehicle): readonly string[] {
  if (!position.endsWith('*')) return [position];
  const item = findItem(key);
  const all = (item && positionsFor(item, vehicle)) ?? [];
  return all.filter((one) => one.startsWith(position.slice(0, -1)));
}

/** The answers with some cells set otherwise; a change to `undefined` takes the answer away. */
export function changeAnswers(answers: RawAnswers, changes: Changes, vehicle: Vehicle): RawAnswers {
  const changed: RawAnswers = { ...answers };
  for (const [cell, value] of Object.entries(changes)) {
    const [key = '', position] = cell.split('@');
    if (position === undefined) {
      changed[key] = value;
      continue;
    }
    const before = changed[key];
    const places = positionsOfChange(key, position, vehicle).map((one) => [one, value]);
    changed[key] = { ...(typeof before === 'object' ? before : {}), ...Object.fromEntries(places) };
  }
  // an answer that is undefined is no answer: it would not survive JSON
  return JSON.parse(JSON.stringify(changed)) as RawAnswers;
}

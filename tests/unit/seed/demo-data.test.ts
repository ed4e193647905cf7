import { describe, expect, it } from 'vitest';
import { changeAnswers, goodAnswers } from '../../../seed/answers.ts';
import { BUILT_IN_RULE_SET, PROFILE_NAMES, PROFILES } from '../../../seed/built-in.ts';
import { CARS, type CarKind, carOf } from '../../../seed/cars.ts';
import {
  DEMO_ENTRIES,
  DEMO_VENUE,
  demoAnswers,
  demoEventAt,
  demoGroups,
  demoVehicle,
  secondMorning,
} from '../../../seed/demo-data.ts';
import { BARRED_CAR, WALK_CAR } from '../../../seed/demo/entries-novice.ts';
import { type DemoEntry, statusAfter } from '../../../seed/demo/plan.ts';
import { CATALOGUE, findItem, itemApplies } from '../../../src/domain/catalogue/catalogue.ts';
import { AREAS } from '../../../src/domain/catalogue/item.ts';
import { plainDateAt } from '../../../src/domain/calendar.ts';
import { CLEARANCE_STATUSES } from '../../../src/domain/clearance/clearance.ts';
import {
  listMissing,
  listNotApplicable,
  parseAnswers,
  type RawAnswers,
} from '../../../src/domain/declaration/declaration.ts';
import { compileRuleSet } from '../../../src/domain/rules/compile/compile-rule-set.ts';
import { evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';
import { Vehicle } from '../../../src/domain/vehicle.ts';

const compiled = compileRuleSet(RuleSet.parse(BUILT_IN_RULE_SET));
const venue = {
  topSpeedKmh: DEMO_VENUE.topSpeedKmh,
  soundLimitDb: DEMO_VENUE.soundLimit.levelDb,
  soundDistanceM: DEMO_VENUE.soundLimit.distanceM,
  lapLengthM: DEMO_VENUE.lapLengthM,
  designAirTemperatureC: DEMO_VENUE.designAirTemperatureC,
  brakingZones: [...DEMO_VENUE.brakingZones],
};
const KINDS = Object.keys(CARS) as CarKind[];

function answersOf(raw: RawAnswers) {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
}

function judge(
  vehicle: Vehicle,
  raw: RawAnswers,
  profile: keyof typeof PROFILES,
  event: { startsOn: string; endsOn: string },
) {
  const input = { answers: answersOf(raw), vehicle, event, venue, parameters: PROFILES[profile], concessions: [] };
  return evaluate(compiled, { ...input, stage: 'declaration' });
}

describe('the cars of the demo', () => {
  it.each(KINDS)('%s is a vehicle record, and in good order it is met by every profile', (kind) => {
    const vehicle = Vehicle.parse(carOf(kind));
    for (const startsOn of ['2026-06-13', '2024-02-28', '2027-12-31']) {
      for (const profile of PROFILE_NAMES) {
        const { findings } = judge(vehicle, goodAnswers(vehicle, startsOn), profile, { startsOn, endsOn: startsOn });
        const open = findings.filter(({ result }) => result !== 'met').map(({ ruleId }) => ruleId);
        const byTheLine = profile === 'advanced' || profile === 'competition' ? ['brake-fluid-measured'] : [];
        expect(open, `${profile} ${startsOn}`).toEqual(byTheLine);
      }
    }
  });

  it.each(KINDS)('%s answers what applies to it and nothing else', (kind) => {
    const vehicle = carOf(kind);
    const answers = answersOf(goodAnswers(vehicle, '2026-06-13'));
    expect(listNotApplicable(answers, vehicle)).toEqual([]);
    const missing = new Set(listMissing(answers, vehicle, 'entrant').map(({ key }) => key));
    const appliesTo = (key: string): boolean => CATALOGUE.some((one) => one.key === key && itemApplies(one, vehicle));
    const voluntary = [
      ...['pad.new-since-last', 'tyre.new-since-last'].filter(appliesTo),
      'tyre.wear-holes',
      'tyre.hot-pressure',
      'setup.corner-weights',
      'setup.alignment',
      'setup.ride-height',
    ];
    expect([...missing].sort()).toEqual([...voluntary].sort());
  });

  it('are of every kind that changes which items are asked', () => {
    const cars: Vehicle[] = KINDS.map(carOf);
    const have = (see: (car: Vehicle) => readonly unknown[]) => new Set(cars.flatMap(see));
    const all = (see: (car: Vehicle) => readonly unknown[], wanted: readonly unknown[]) =>
      expect([...have(see)]).toEqual(expect.arrayContaining([...wanted]));
    all((car) => Object.values(car.caliper ?? {}), ['fixed', 'floating']);
    all((car) => Object.values(car.rotor ?? {}), ['iron', 'carbon']);
    all((car) => Object.values(car.bushing ?? {}), ['rubber', 'urethane', 'spherical']);
    all((car) => [car.sump], ['wet', 'dry']);
    all((car) => [car.body], ['closed', 'open', 'targa']);
    all((car) => [car.powertrain], ['combustion', 'hybrid', 'battery']);
    all((car) => [car.restraint], ['three-point', 'harness']);
    all((car) => [car.harnessPoints], [6]);
    all((car) => [car.damper?.use], ['club', 'professional']);
    all((car) => [car.cooling], ['liquid', 'air']);
    all((car) => [car.drive], ['front', 'rear', 'all']);
    all((car) => [car.fuelCell], [true, false]);
  });
});

describe('changes to a declaration', () => {
  const vehicle = carOf('coupe');
  const good = goodAnswers(vehicle, '2026-06-13');

  it('set one position, all positions, or take an answer away', () => {
    const changed = changeAnswers(
      good,
      { 'pad.thickness@FL.in': 3, 'wheel.clean@*': false, 'oil.grade': undefined, 'setup.ride-height@FL': 100 },
      vehicle,
    );
    expect(changed['pad.thickness']).toMatchObject({ 'FL.in': 3, 'FL.out': 9.8 });
    expect(changed['wheel.clean']).toEqual({ FL: false, FR: false, RL: false, RR: false });
    expect(changed).not.toHaveProperty(['oil.grade']);
    expect(changed['setup.ride-height']).toEqual({ FL: 100 });
    expect(good['oil.grade']).toBe('10W-60');
  });
});

describe('the entries of the demo', () => {
  const event = demoEventAt(new Date('2026-06-13T07:30:00Z'));
  const named = DEMO_ENTRIES.map((entry) => [`${entry.number} ${entry.group}`, entry] as const);

  it.each(named)('car %s is judged as planned', (_name, entry) => {
    if (entry.verdict === undefined) return expect(entry.plan.does).toBe('nothing');
    const profile = entry.group.toLowerCase() as 'novice' | 'intermediate' | 'advanced';
    const vehicle = demoVehicle(entry);
    const raw = demoAnswers(entry, event.startsOn);
    expect(listNotApplicable(answersOf(raw), vehicle)).toEqual([]);
    return expect(judge(vehicle, raw, profile, event).verdict).toBe(entry.verdict);
  });

  it('are at least 40, with every status of the gate, and two cars or more on the line', () => {
    expect(DEMO_ENTRIES.length).toBeGreaterThanOrEqual(40);
    const statuses = DEMO_ENTRIES.map(statusAfter);
    // A cancelled event admits nobody: that is no status of one car.
    expect(CLEARANCE_STATUSES.filter((status) => !statuses.includes(status))).toEqual(['cancelled']);
    expect(statuses.filter((status) => status === 'in-line').length).toBeGreaterThanOrEqual(2);
  });

  it('have numbers that look alike, one number in two groups, and none twice in a group', () => {
    const numbers = DEMO_ENTRIES.map(({ number }) => number);
    expect(numbers).toEqual(expect.arrayContaining(['7', '07', '70']));
    const places = DEMO_ENTRIES.map(({ number, group }) => `${number} ${group}`);
    expect(new Set(places).size).toBe(places.length);
    const shared = DEMO_ENTRIES.filter(({ number }) => number === '33');
    expect(shared.map(({ verdict }) => verdict)).toEqual(['clean', 'barred']);
  });

  it('change answers of every area', () => {
    const keys = DEMO_ENTRIES.flatMap(({ changes = {} }) =>
      Object.keys(changes).map((cell) => cell.split('@')[0] ?? ''),
    );
    const areas = new Set(keys.map((key) => findItem(key)?.area));
    expect(AREAS.filter((area) => !areas.has(area))).toEqual([]);
    const answered = new Set(DEMO_ENTRIES.flatMap((entry) => Object.keys(demoAnswers(entry, event.startsOn))));
    const never = [
      'oil.level.at-the-line',
      'brake-fluid.measured-boiling-point',
      'pad.new-since-last',
      'tyre.new-since-last',
      'tyre.wear-holes',
      'tyre.hot-pressure',
    ];
    const asked = CATALOGUE.filter(({ askedAfter }) => askedAfter === undefined);
    expect(asked.map(({ key }) => key).filter((key) => !answered.has(key))).toEqual(never);
  });

  it('leave car 21 saved, with findings for the line to look at, and car 12 barred for several reasons', () => {
    const find = (number: string): DemoEntry | undefined => DEMO_ENTRIES.find((entry) => entry.number === number);
    expect(find(WALK_CAR)).toMatchObject({ number: '21', plan: { does: 'save' }, verdict: 'to-inspect' });
    const barred = find(BARRED_CAR);
    if (barred === undefined) throw new Error('no barred car');
    const { findings } = judge(demoVehicle(barred), demoAnswers(barred, event.startsOn), 'novice', event);
    expect(findings.filter(({ counts }) => counts === 'bar').length).toBeGreaterThanOrEqual(3);
  });
});

describe('the event of the demo', () => {
  it.each([
    ['2026-06-12T22:30:00Z', '2026-06-13', '2026-06-14'],
    ['2026-06-12T21:30:00Z', '2026-06-12', '2026-06-13'],
    ['2026-12-31T23:30:00Z', '2027-01-01', '2027-01-02'],
    ['2026-10-24T12:00:00Z', '2026-10-24', '2026-10-25'],
  ])('is today and tomorrow at the venue: %s', (now, startsOn, endsOn) => {
    const event = demoEventAt(new Date(now));
    expect(event).toMatchObject({ startsOn, endsOn });
    expect(event.declarationsOpenAt < now && now < event.declarationsCloseAt).toBe(true);
    for (const group of demoGroups(event)) {
      expect(plainDateAt(new Date(group.firstSessionAt), DEMO_VENUE.timeZone)).toBe(startsOn);
    }
    expect(plainDateAt(new Date(secondMorning(event)), DEMO_VENUE.timeZone)).toBe(endsOn);
  });
});

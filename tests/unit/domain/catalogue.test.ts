import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  CATALOGUE,
  CATALOGUE_VERSION,
  findItem,
  itemApplies,
  positionsFor,
} from '../../../src/domain/catalogue/catalogue.ts';
import { AREAS, type Item, POSITION_KEYS, type SimpleAnswerType } from '../../../src/domain/catalogue/item.ts';
import { CAUTIONS } from '../../../src/domain/cautions.ts';
import { isUnit, roundTo } from '../../../src/domain/quantity.ts';
import { Vehicle } from '../../../src/domain/vehicle.ts';
import { arbVehicle } from '../../support/arbitraries.ts';

/** Every key there is. A key is stable for ever: this list only grows. */
const KEYS = `
oil.grade oil.changed-on oil.level.reading oil.level.at-operating-temperature oil.level.minutes-since-shutdown
oil.level.at-the-line
engine.leaks engine.weep-reaches engine.throttle-return engine.loose-items engine.catch-tank battery.secured battery.positive-covered
fuel.cap-and-lines fuel.gas gas.leak gas.tank-valve gas.test-valid-through
brake-fluid.class brake-fluid.dry-boiling-point brake-fluid.wet-boiling-point brake-fluid.flushed-on
brake-fluid.measured-boiling-point brake-fluid.level clutch-fluid.class clutch-fluid.level brake.pedal brake.parking brake.lines
brake.lights
pad.thickness pad.even pad.new-since-last pad.temperature-range rotor.thickness rotor.cracks rotor.weight rotor.edge-chips caliper.boots
caliper.seals caliper.guides lining.thickness drum.wheel-cylinders drum.condition drum.diameter
gearbox-fluid.changed-on differential-fluid.changed-on gearbox-fluid.level differential-fluid.level
driveline.boots-and-joints driveline.bolts
bushing.condition bushing.lubricated bushing.clean bushing.play wheel-play.nine-three wheel-play.twelve-six
steering.free-play damper.leak damper.mount-play damper.serviced-on spring.condition suspension.fasteners
tyre.kind tyre.axle-marking tyre.tread-lowest tyre.tread tyre.new-since-last tyre.wear-holes tyre.cords-visible tyre.cuts-or-bulges tyre.date-code tyre.rating tyre.cold-pressure tyre.hot-pressure
wheel.cracks wheel.bent wheel.weights-present wheel.rubber-buildup wheel.clean wheel.torque-setting
wheel.torque wheel.fitting wheel.stud-engagement
coolant.level coolant.changed-on coolant.type coolant.cap-pressure coolant.hoses radiator.debris
lamps.warning lights.head-and-tail body.numbers-displayed body.panels-secure body.windscreen body.mirrors body.loose-items body.floor-mats-out
body.cameras-secured body.tow-eye exhaust.secure exhaust.sound-level rollover.structure rollover.clearance
rollover.closed-car rollover.padding arm-restraints window-net
helmet.standard helmet.made-on clothing eyewear belt.condition harness.standard harness.label-kind harness.label-date
harness.angles harness.shoulder-fixing harness.seat-slots head-restraint.standard head-restraint.tether-posts
seat.standard seat.condition seat.made-on seat.mounts passenger.equal-restraint extinguisher.type
extinguisher.mounted extinguisher.serviced-on master-switch fuel-cell.made-on
hv.damage-or-work hv.isolation hv.orange-cables-sound hv.service-disconnect-marked hv.status-light hv.responder-card-on-board
twelve-volt.disconnect-marked hv.faults-none
setup.corner-weights setup.alignment setup.ride-height debrief.symptoms debrief.pulls-under-braking
debrief.long-pedal-after-laps debrief.weak-brakes-when-cold debrief.temperature-rising debrief.oil-pressure-drops-in-corners debrief.smell-of-fuel
debrief.smell-of-burning
full-inspection.done-on pre-event-check.done-on car.usage declaration.true-and-complete
`
  .trim()
  .split(/\s+/u);

const car = (properties: Partial<Vehicle>): Vehicle => ({ description: 'A car', ...properties });
const item = (key: string): Item => {
  const found = findItem(key);
  if (found === undefined) throw new Error(`no item ${key}`);
  return found;
};
const positions = (key: string, vehicle: Vehicle) => positionsFor(item(key), vehicle);
const asked = (vehicle: Vehicle): string[] =>
  CATALOGUE.filter((each) => itemApplies(each, vehicle)).map((each) => each.key);

function simpleTypes(of: Item): SimpleAnswerType[] {
  return of.answer.kind === 'fields' ? Object.values(of.answer.fields).map((field) => field.type) : [of.answer];
}

describe('the catalogue', () => {
  it('has exactly these keys, in this order', () => {
    expect(CATALOGUE.map((each) => each.key)).toEqual(KEYS);
    expect(new Set(KEYS).size).toBe(KEYS.length);
    expect(Number.isInteger(CATALOGUE_VERSION)).toBe(true);
  });

  it('has items in every area, and keeps areas together', () => {
    const runs = CATALOGUE.map((each) => each.area).filter((area, index, all) => area !== all[index - 1]);
    expect(runs).toEqual([...AREAS]);
  });

  it('finds an item by its exact key only', () => {
    expect(findItem('oil.grade')?.label).toBe('Engine oil grade');
    for (const key of ['oil', 'Oil.grade', '__proto__', 'constructor', '']) expect(findItem(key)).toBeUndefined();
  });

  it('uses keys that can be cell names and expression names', () => {
    for (const key of KEYS) expect(key).toMatch(/^[a-z]+(-[a-z]+)*(\.[a-z]+(-[a-z]+)*)*$/u);
    const names = KEYS.map((key) => key.replaceAll('-', '_'));
    expect(new Set(names).size).toBe(names.length);
    // `a.b` and `a.b.c` together would make `a.b` both a value and a group in an expression
    for (const key of KEYS) expect(KEYS.filter((other) => other.startsWith(`${key}.`))).toEqual([]);
  });

  it.each(CATALOGUE.map((each) => [each.key, each] as const))('%s is described whole', (_key, each) => {
    expect(each.label.length).toBeGreaterThan(5);
    expect(each.label.length).toBeLessThanOrEqual(100);
    expect(each.help).toMatch(/\.$/u);
    expect(each.help.length).toBeLessThanOrEqual(260);
    for (const caution of each.cautions ?? []) expect(Object.keys(CAUTIONS)).toContain(caution);
    for (const type of simpleTypes(each)) {
      if (type.kind === 'number') {
        expect(isUnit(type.unit)).toBe(true);
        expect(type.min).toBeLessThan(type.max);
        // a bound with more decimals than are kept could round out of its own range
        expect(roundTo(type.min, type.decimals)).toBe(type.min);
        expect(roundTo(type.max, type.decimals)).toBe(type.max);
      }
      if (type.kind === 'choice' || type.kind === 'choices') {
        expect(type.options.length).toBeGreaterThan(1);
        expect(new Set(type.options).size).toBe(type.options.length);
      }
      if (type.kind === 'text' && type.pattern) expect(() => new RegExp(type.pattern?.source ?? '', 'u')).not.toThrow();
    }
  });
});

describe('what applies to a car', () => {
  it('asks everything of a car that nothing is known of', () => {
    expect(asked(car({}))).toEqual(KEYS);
    for (const each of CATALOGUE) {
      expect(positionsFor(each, car({}))).toEqual(each.positions && POSITION_KEYS[each.positions]);
    }
  });

  it('asks rotor weight on the carbon axle and rotor thickness on the iron one', () => {
    const mixed = car({ rotor: { front: 'carbon', rear: 'iron' } });
    expect(positions('rotor.weight', mixed)).toEqual(['FL', 'FR']);
    expect(positions('rotor.edge-chips', mixed)).toEqual(['FL', 'FR']);
    expect(positions('rotor.thickness', mixed)).toEqual(['RL', 'RR']);
    expect(positions('rotor.cracks', mixed)).toEqual(['RL', 'RR']);
    const iron = car({ rotor: { front: 'iron', rear: 'iron' } });
    expect(positions('rotor.weight', iron)).toEqual([]);
    expect(itemApplies(item('rotor.weight'), iron)).toBe(false);
  });

  it('asks guide pins on floating calipers only, also where one axle is not stated', () => {
    expect(positions('caliper.guides', car({ caliper: { front: 'fixed', rear: 'floating' } }))).toEqual(['RL', 'RR']);
    expect(positions('caliper.guides', car({ caliper: { front: 'fixed' } }))).toEqual(['RL', 'RR']);
    expect(positions('pad.thickness', car({ caliper: { front: 'fixed' } }))).toHaveLength(8);
  });

  it('asks bushings by their type and skips joints that the car does not have', () => {
    const vehicle = car({
      bushing: {
        'front-upper-arm': 'none',
        'front-lower-arm': 'urethane',
        'front-anti-roll-bar': 'rubber',
        'rear-upper-arm': 'spherical',
        'rear-lower-arm': 'spherical',
        'rear-anti-roll-bar': 'rubber',
        subframe: 'rubber',
      },
    });
    expect(positions('bushing.lubricated', vehicle)).toEqual(['front-lower-arm', 'differential-mount']);
    expect(positions('bushing.play', vehicle)).toEqual(['rear-upper-arm', 'rear-lower-arm', 'differential-mount']);
    expect(positions('bushing.condition', vehicle)).not.toContain('front-upper-arm');
    expect(positions('bushing.condition', vehicle)).toHaveLength(7);
  });

  it('has the bushing locations of the vehicle record', () => {
    const record = Vehicle.shape.bushing.unwrap().shape;
    expect(Object.keys(record).sort()).toEqual([...POSITION_KEYS.bushing].sort());
  });

  it.each<[string, Partial<Vehicle>, string[], string[]]>([
    ['closed car', { body: 'closed' }, ['window-net'], ['rollover.structure', 'rollover.clearance', 'arm-restraints']],
    ['open car', { body: 'open' }, ['rollover.structure', 'rollover.clearance', 'arm-restraints'], []],
    [
      'battery car',
      { powertrain: 'battery' },
      ['hv.isolation', 'coolant.level', 'battery.secured', 'helmet.standard'],
      [
        'oil.grade',
        'oil.level.reading',
        'exhaust.secure',
        'exhaust.sound-level',
        'fuel.cap-and-lines',
        'engine.catch-tank',
      ],
    ],
    ['hybrid', { powertrain: 'hybrid' }, ['hv.isolation', 'oil.grade', 'exhaust.sound-level'], []],
    ['combustion car', { powertrain: 'combustion' }, ['oil.grade'], ['hv.isolation', 'twelve-volt.disconnect-marked']],
    ['dry sump', { sump: 'dry' }, ['oil.level.reading'], ['oil.level.minutes-since-shutdown']],
    [
      'three-point belts',
      { restraint: 'three-point' },
      ['belt.condition'],
      ['harness.standard', 'head-restraint.standard'],
    ],
    ['harness', { restraint: 'harness' }, ['harness.label-date', 'harness.angles', 'belt.condition'], []],
    ['air cooling', { cooling: 'air' }, ['radiator.debris'], ['coolant.level', 'coolant.type', 'coolant.hoses']],
    [
      'no clutch fluid',
      { hydraulicClutch: false },
      ['brake-fluid.class'],
      ['clutch-fluid.class', 'clutch-fluid.level'],
    ],
    ['one gearbox oil', { separateDifferential: false }, ['gearbox-fluid.level'], ['differential-fluid.level']],
    ['sealed dampers', { damper: { rebuildable: false } }, ['damper.leak'], ['damper.serviced-on']],
    ['no fuel cell', { fuelCell: false }, [], ['fuel-cell.made-on']],
  ])('%s', (_name, properties, expected, unexpected) => {
    const keys = asked(car(properties));
    for (const key of expected) expect(keys).toContain(key);
    for (const key of unexpected) expect(keys).not.toContain(key);
  });

  it('asks leaks only of fluids that the car can have', () => {
    expect(positions('engine.leaks', car({ powertrain: 'battery' }))).toEqual([
      'coolant',
      'brake-fluid',
      'gearbox-oil',
      'power-steering',
    ]);
    expect(positions('engine.leaks', car({ cooling: 'air' }))).not.toContain('coolant');
  });

  it('asks the crotch strap unless the harness has four points', () => {
    expect(positions('harness.label-date', car({ harnessPoints: 4 }))).toHaveLength(4);
    expect(positions('harness.label-date', car({ harnessPoints: 6 }))).toContain('crotch');
    expect(positions('harness.label-date', car({ restraint: 'three-point' }))).toEqual([]);
  });

  it('never asks more of a car the more is known of it', () => {
    fc.assert(
      fc.property(arbVehicle(), fc.nat(), (vehicle, pick) => {
        const names = Object.keys(vehicle).filter((name) => name !== 'description') as (keyof Vehicle)[];
        const less = { ...vehicle };
        const name = names[pick % Math.max(names.length, 1)];
        if (name !== undefined) delete less[name];
        for (const each of CATALOGUE) {
          const known = positionsFor(each, vehicle) ?? [];
          const unknown = positionsFor(each, less) ?? [];
          expect(unknown).toEqual(expect.arrayContaining([...known]));
          if (itemApplies(each, vehicle)) expect(itemApplies(each, less)).toBe(true);
        }
      }),
    );
  });

  it('makes vehicles that the vehicle record accepts', () => {
    fc.assert(
      fc.property(arbVehicle(), (vehicle) => {
        expect(Vehicle.safeParse(vehicle).success).toBe(true);
      }),
    );
  });
});

describe('cautions', () => {
  it('say that a passed inspection guarantees nothing, and where each comes from', () => {
    expect(CAUTIONS.general.text).toContain('never guarantees a safe car');
    for (const caution of Object.values(CAUTIONS)) {
      expect(caution.text).toMatch(/\.$/u);
      if (caution.basis.kind === 'published') expect(caution.basis.source).not.toBe('');
    }
  });

  it('are each asked for by some item', () => {
    const used = new Set(CATALOGUE.flatMap((each) => each.cautions ?? []));
    expect(Object.keys(CAUTIONS).filter((id) => !used.has(id as keyof typeof CAUTIONS))).toEqual([]);
  });
});

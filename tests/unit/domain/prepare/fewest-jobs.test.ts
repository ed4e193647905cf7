import { expect, test } from 'vitest';
import { openRandom } from '../../../../src/domain/foresight/random.ts';
import { type Fault, fewestJobs } from '../../../../src/domain/prepare/fewest-jobs.ts';
import { orderFixes, type ToFix } from '../../../../src/domain/prepare/fix-order.ts';
import { JOBS_ALSO_DONE, JOB_ORDER, OPEN_MINUTES, type Work } from '../../../../src/domain/prepare/work-table.ts';

const JOBS = ['a', 'b', 'c', 'd', 'e'];
const OPENINGS = ['wheels', 'under', 'bonnet'] as const;

/** Minutes of a set of jobs at places, worked out anew: each opening once. */
function cost(jobs: ReadonlySet<string>, faults: readonly Fault[]): number {
  const done = faults.filter(({ work, wheel }) => jobs.has(`${work.job} ${wheel ?? ''}`));
  const each = new Map(done.map(({ work, wheel }) => [`${work.job} ${wheel ?? ''}`, work.minutes]));
  const opened = new Set(done.map(({ work, axle }) => `${work.opening} ${axle ?? ''}`));
  const opening = [...opened].reduce((sum, one) => sum + OPEN_MINUTES[one.split(' ')[0] as Work['opening']], 0);
  return opening + [...each.values()].reduce((sum, minutes) => sum + minutes, 0);
}

test('no set of jobs that ends all faults takes fewer minutes: every subset tried', () => {
  let saved = 0;
  for (let seed = 1; seed <= 400; seed += 1) {
    const random = openRandom(seed);
    const works = JOBS.map((job): Work => {
      return { job, opening: OPENINGS[random.below(3)] ?? 'under', minutes: 5 * (1 + random.below(12)) };
    });
    const alsoDone = Object.fromEntries(JOBS.map((job) => [job, JOBS.filter(() => random.uniform() < 0.3)]));
    const faults = Array.from({ length: 2 + random.below(6) }, (): Fault => {
      const wheel = ['FL', 'FR'][random.below(2)];
      return { work: works[random.below(5)] as Work, wheel, axle: 'front', weight: random.below(2) };
    });
    const names = [...new Set(faults.map(({ work, wheel }) => `${work.job} ${wheel ?? ''}`))];
    const ends = (jobs: ReadonlySet<string>, fault: Fault): boolean =>
      [...jobs].some((name) => {
        const [job = '', wheel] = name.split(' ');
        if (wheel !== fault.wheel) return false;
        const asked = faults.some((one) => one.work.job === job && one.wheel === wheel && one.weight <= fault.weight);
        return job === fault.work.job || (asked && alsoDone[job]?.includes(fault.work.job) === true);
      });
    let least = Infinity;
    for (let set = 0; set < 2 ** names.length; set += 1) {
      const jobs = new Set(names.filter((_, at) => (set >> at) % 2 === 1));
      if (faults.every((fault) => ends(jobs, fault))) least = Math.min(least, cost(jobs, faults));
    }
    const chosen = new Set(fewestJobs(faults, alsoDone).map((job, at) => `${job} ${faults[at]?.wheel ?? ''}`));
    expect(faults.every((fault) => ends(chosen, fault))).toBe(true);
    expect(cost(chosen, faults)).toBe(least);
    if (chosen.size < names.length) saved += 1;
  }
  // it is about something: in many cases a job falls away
  expect(saved).toBeGreaterThan(100);
});

const wrong = (item: string, position?: string, counts: ToFix['counts'] = 'bar'): ToFix => {
  return { ruleId: item, result: 'not-met', counts, items: [item], position };
};
const jobsOf = (findings: readonly ToFix[]) =>
  orderFixes(findings).steps.flatMap(({ jobs }) => jobs.map(({ job, wheels }) => `${job} ${wheels.join('+')}`.trim()));

// what is done along the way by what: common practice, no source
test('guides are freed with the caliper of that wheel, and with no other', () => {
  expect(jobsOf([wrong('caliper.guides', 'FL'), wrong('caliper.boots', 'FL')])).toEqual([
    'caliper FL',
    'bleed',
    'torque',
  ]);
  expect(jobsOf([wrong('caliper.guides', 'FR'), wrong('caliper.boots', 'FL')])).toEqual([
    'caliper FL',
    'guides FR',
    'bleed',
    'torque',
  ]);
});

test('what is only advised ends nothing that keeps the car off the track', () => {
  const advised = [wrong('caliper.guides', 'FL', 'bar'), wrong('caliper.boots', 'FL', 'advise')];
  expect(jobsOf(advised)).toContain('guides FL');
});

test('no finding is lost: the one that is ended along the way stands with the job that ends it', () => {
  const { steps } = orderFixes([wrong('tyre.tread', 'front'), wrong('wheel.weights-present', 'FL')]);
  const tyres = steps.flatMap(({ jobs }) => jobs).find(({ job }) => job === 'tyres');
  expect(tyres?.findings.map(({ ruleId }) => ruleId)).toEqual(['tyre.tread', 'wheel.weights-present']);
});

test('the table names jobs that there are', () => {
  for (const [job, also] of Object.entries(JOBS_ALSO_DONE)) {
    for (const one of [job, ...also]) expect(JOB_ORDER).toContain(one);
  }
});

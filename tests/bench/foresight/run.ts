import { reportAnswers } from './answer-report.ts';
import { reportLooks } from './fault-report.ts';
import { reportLine } from './line-report.ts';
import { WEAR_KINDS } from './wear-world.ts';
import { reportWear } from './wear-report.ts';

/** Seeds that nothing was chosen by; `-- 5000` begins elsewhere. */
const FIRST = Number(process.argv[2] ?? 90_001);
const seeds = (count: number) => Array.from({ length: count }, (_, at) => FIRST + at);
const say = (text: string) => process.stdout.write(`${text}\n`);
const percent = (share: number) => `${(100 * share).toFixed(1)} %`;

let missed = 0;
function bar(isHeld: boolean, text: string): void {
  if (!isHeld) missed += 1;
  say(`  ${isHeld ? 'held  ' : 'MISSED'} ${text}`);
}

function line(): void {
  say(
    'Times at the line (100 mornings each; minutes; "untold": everybody comes as he likes; "rule": two at the start)',
  );
  for (const load of [0.6, 0.75, 0.85]) {
    for (const late of [
      { share: 0, meanMinutes: 10 },
      { share: 0.15, meanMinutes: 12 },
    ]) {
      const { ours, rule, untold, calledSafe, inTimeOfCalledSafe } = reportLine(
        { load, absent: 0.05, late },
        seeds(200),
      );
      const show = ({ wait, inTime }: typeof ours) => `${wait.toFixed(1)} min, all in time ${percent(inTime)}`;
      say(` load ${load}, late ${percent(late.share)}: ours ${show(ours)}; rule ${show(rule)}; untold ${show(untold)}`);
      say(`  called safe the evening before: ${percent(calledSafe)}, of these in time ${percent(inTimeOfCalledSafe)}`);
      bar(ours.wait <= 0.4 * untold.wait, `wait ${percent(ours.wait / untold.wait)} of untold (at most 40 %)`);
      bar(ours.wait <= rule.wait && ours.inTime >= rule.inTime - 0.01, 'no worse than the rule in wait or time');
      if (late.share === 0) bar(ours.inTime >= 0.95, `all in time on ${percent(ours.inTime)} of mornings (95 %)`);
    }
  }
}

function looks(): void {
  say('Where to look (24 seasons of 20 events, 180 s a car; harm found)');
  const world = reportLooks(seeds(24), true);
  say(` fixed list ${world.fixed}, ours ${world.ours}, all-knowing ${world.knowing}`);
  bar(world.gain >= 0.6, `${percent(world.gain)} of the gain of an all-knowing choice (60 %)`);
  bar(
    world.severeMissedOurs <= world.severeMissedFixed,
    `severe faults missed: ${world.severeMissedOurs}, fixed list ${world.severeMissedFixed}`,
  );
  const even = reportLooks(seeds(24), false);
  bar(even.ofFixed >= 0.95, `a world without signal: ${percent(even.ofFixed)} of the fixed list (95 %)`);
  bar(
    even.severeMissedOurs <= even.severeMissedFixed,
    `severe faults missed there: ${even.severeMissedOurs}, fixed list ${even.severeMissedFixed}`,
  );
}

function wear(): void {
  say(
    'Last safe session (1,000 forecasts each; band of 90 %; "line": straight through first and last, give or take the gauge)',
  );
  for (const kind of Object.keys(WEAR_KINDS) as (keyof typeof WEAR_KINDS)[]) {
    const { coverage, ofTrueWidth, straightCoverage } = reportWear(kind, seeds(1000));
    bar(
      coverage >= 0.85 && coverage <= 0.95 && ofTrueWidth <= 1.3,
      `${kind}: ${percent(coverage)} inside (85 to 95), ${ofTrueWidth.toFixed(2)} of the true width (1.3); line ${percent(straightCoverage)}`,
    );
  }
}

function answers(): void {
  const { honest, careless, severe, byKind } = reportAnswers(seeds(1000));
  say('It does not add up (1,000 cars of each kind; baseline: asking nobody)');
  say(
    ` ${Object.entries(byKind)
      .map(([kind, share]) => `${kind} ${percent(share)}`)
      .join(', ')}`,
  );
  bar(honest <= 0.02, `honest cars asked: ${percent(honest)} (at most 2 %)`);
  bar(careless >= 0.6, `careless cars asked: ${percent(careless)} (at least 60 %)`);
  bar(severe >= 0.9, `cars that hide a worn part asked: ${percent(severe)} (at least 90 %)`);
}

line();
looks();
wear();
answers();
process.exitCode = missed > 0 ? 1 : 0;

import { cpus, loadavg } from 'node:os';
import { parseArgs } from 'node:util';
import { KINDS } from './measures.ts';
import { CROWD, NORMAL, OVERLOAD, type PhaseReport, runLoad, RUSH } from './run-load.ts';

const say = (text: string) => process.stdout.write(`${text}\n`);
const RUSH_SECONDS = 10;
const RECOVERY_SECONDS = 10;
const RECOVERY_MS = 5000;

/** `npm run load -- --seconds 60 --overload 20`: a normal day, ten times that, and what is left of it afterwards. */
async function main(): Promise<void> {
  const text = { type: 'string' } as const;
  const { values } = parseArgs({ options: { seconds: text, overload: text } });
  const seconds = Number(values.seconds ?? 60);
  const overload = Number(values.overload ?? 20);
  say(`${cpus().length} cores, load of the machine before: ${loadavg()[0]?.toFixed(1)}`);
  const reports = await runLoad({
    size: CROWD,
    phases: [
      { name: 'normal', seconds, pace: NORMAL },
      { name: 'normal, but every marshal alone asks 50 times a second', seconds: RUSH_SECONDS, pace: RUSH },
      { name: 'ten times the normal of everything', seconds: overload, pace: OVERLOAD },
      { name: 'normal again', seconds: RECOVERY_SECONDS, pace: NORMAL },
    ],
    say,
  });
  const bad = reports.map(judge);
  say(
    `load: ${bad.every((one) => one === 0) ? 'all as it should be' : 'NOT as it should be'} (${bad.join(', ')} bad answers)`,
  );
  if (bad.some((one) => one > 0)) process.exitCode = 1;
}

/** Bad is what failed, and a service that is not there again in time; on a normal day also what was shed, and lookups that were shed on any day. */
function judge({ name, measures, recoveredMs }: PhaseReport): number {
  const bad = KINDS.reduce((sum, kind) => {
    const { failed, shed } = measures.of(kind);
    return sum + failed + (name.startsWith('normal') || kind === 'lookup' ? shed : 0);
  }, 0);
  return bad + (recoveredMs > RECOVERY_MS ? 1 : 0);
}

await main();

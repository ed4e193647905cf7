import { closeAtSignal } from './at-signal.ts';

// Run by at-signal.test.ts: closing takes a while, and how often it is done is counted.
let times = 0;
const guard = closeAtSignal(async () => {
  times += 1;
  await new Promise((resolve) => setTimeout(resolve, 300));
  process.stdout.write(`closed ${times}\n`);
});
process.stdout.write('started\n');
// Another that is open at the same time, and takes longer.
const other = closeAtSignal(async () => {
  await new Promise((resolve) => setTimeout(resolve, 500));
  process.stdout.write('closed the other\n');
});
if (process.argv.includes('done')) {
  await other.close();
  await guard.close();
} else setInterval(() => undefined, 1000);

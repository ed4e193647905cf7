import type { FuzzReport } from './fuzz.ts';

/** What a run did, in one line; then what it found, each with the request as a curl line. */
export function describeReport(report: FuzzReport): string {
  const { seed, requests, seconds, cpuSeconds, operations, succeeded, byStatus, slowest, findings } = report;
  const statuses = [...byStatus].toSorted(([a], [b]) => a - b).map(([status, times]) => `${status}:${times}`);
  const [slow] = slowest;
  return [
    `fuzz: seed ${seed}, ${requests} requests in ${seconds.toFixed(1)} s (${(requests / seconds).toFixed(0)}/s; ${cpuSeconds.toFixed(1)} s CPU), ` +
      `${operations.length} operations of which ${succeeded.size} succeeded at least once, ${findings.length} findings`,
    `  statuses ${statuses.join(' ')}`,
    `  never a success: ${operations.filter((id) => !succeeded.has(id)).join(' ') || 'none'}`,
    `  slowest ${slow === undefined ? 'none' : `${slow.ms.toFixed(0)} ms ${slow.operation}`}`,
    ...findings.map(
      (finding) =>
        `  ${finding.operation}: ${finding.kind}: ${finding.detail} (${finding.times} times, first after ${finding.after}, seed ${seed})\n` +
        `    ${finding.curl}\n    → ${finding.answer}`,
    ),
  ].join('\n');
}

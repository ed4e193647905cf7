import { readFileSync } from 'node:fs';
import { parse } from 'yaml';
import { expect, test } from 'vitest';
import { createMeters } from '../../../src/features/service/metrics.ts';
import { createJobMeters } from '../../../src/platform/queue/job-meters.ts';

const FOLDER = new URL('../../../src/deploy/monitoring/', import.meta.url);
const read = (name: string) => readFileSync(new URL(name, FOLDER), 'utf8');

interface Rule {
  alert: string;
  expr: string;
  annotations: { summary: string; action: string };
}
interface Panel {
  id: number;
  title: string;
  targets: { expr: string }[];
}
const { groups } = parse(read('alerts.yml')) as { groups: { rules: Rule[] }[] };
const rules = groups.flatMap((group) => group.rules);
const { panels } = JSON.parse(read('dashboard.json')) as { panels: Panel[] };

test('alerts and panels ask for what the server measures, under labels that it has', async () => {
  const registries = [createMeters().registry, createJobMeters([]).registry];
  const measured = (await Promise.all(registries.map((one) => one.getMetricsAsJSON()))).flat().map(({ name }) => name);
  const expressions = [
    ...rules.map(({ expr }) => expr),
    ...panels.flatMap(({ targets }) => targets.map(({ expr }) => expr)),
  ];
  expect(expressions.length).toBeGreaterThan(15);
  for (const expression of expressions) {
    const names = expression.match(/gridworthy_\w+/g) ?? [];
    expect(names.length + (expression.startsWith('up{') ? 1 : 0), expression).toBeGreaterThan(0);
    for (const name of names) expect(measured).toContain(name.replace(/_(bucket|count)$/, ''));
    for (const [, route = ''] of expression.matchAll(/route="([^"]+)"/g)) {
      // As metrics.ts names the gate's lookup, which is what these look at.
      expect(route).toBe('/v1/events/:eventId/gate/:carNumber');
    }
  }
});

test('each alert has a name of its own and says what to do', () => {
  expect(new Set(rules.map(({ alert }) => alert)).size).toBe(rules.length);
  for (const { alert, annotations } of rules) {
    expect(annotations.summary.length, alert).toBeGreaterThan(20);
    expect(annotations.action.length, alert).toBeGreaterThan(20);
  }
  expect(new Set(panels.map(({ id }) => id)).size).toBe(panels.length);
});

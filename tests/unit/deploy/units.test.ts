import { readdirSync, readFileSync } from 'node:fs';
import { parseEnv } from 'node:util';
import { expect, test } from 'vitest';
import { Environment, SECRETS } from '../../../src/settings/environment.ts';

const ROOT = new URL('../../../', import.meta.url).pathname;
const read = (path: string) => readFileSync(`${ROOT}${path}`, 'utf8');
const KNOWN = [...Object.keys(Environment.shape), ...SECRETS.map((key) => `${key}_FILE`)];
const { scripts } = JSON.parse(read('package.json')) as { scripts: Record<string, string> };
const services = readdirSync(`${ROOT}src/deploy/systemd`).filter((name) => name.endsWith('.service'));

test.each(services)('%s starts what npm starts, with settings that the server knows', (name) => {
  const unit = read(`src/deploy/systemd/${name}`);
  const start = /^ExecStart=\/usr\/bin\/(.+)$/m.exec(unit)?.[1];
  expect(Object.values(scripts)).toContain(start);
  const settings = [...unit.matchAll(/^Environment=(.+)$/gm)].flatMap(([, line = '']) => line.split(' '));
  for (const setting of settings) expect([...KNOWN, 'NODE_ENV']).toContain(setting.split('=')[0]);
});

test('every key of the example of settings is one, those that are commented out as well', () => {
  const text = read('src/deploy/systemd/settings.env').replaceAll(/^#(?=[A-Z_]+=)/gm, '');
  const keys = Object.keys(parseEnv(text));
  expect(keys.length).toBeGreaterThan(3);
  for (const key of keys) expect(KNOWN).toContain(key);
});

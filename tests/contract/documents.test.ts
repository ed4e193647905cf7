import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const FOLDERS = ['openapi', 'prisma', 'seed', 'src', 'tests'];

test('DEVELOPERS.md can be read in one go', () => {
  expect(read('DEVELOPERS.md').split('\n').length).toBeLessThanOrEqual(201);
});

test('every decision says how we notice that it broke', () => {
  const entries = decisionFiles().flatMap((file) =>
    read(file)
      .split(/^### /m)
      .slice(1)
      .map((entry) => ({ file, entry })),
  );
  expect(entries.length).toBeGreaterThan(80);
  const silent = entries.filter(({ entry }) => !entry.includes('Broken:'));
  expect(silent.map(({ file, entry }) => `${file}: ${entry.split('\n')[0]}`)).toEqual([]);
});

test('DEVELOPERS.md leads to every folder with decisions', () => {
  const text = read('DEVELOPERS.md');
  expect(decisionFiles().filter((file) => !text.includes(`](${file})`))).toEqual([]);
});

test('links between documents lead somewhere', () => {
  const documents = ['README.md', 'DEVELOPERS.md', ...below((name) => name.endsWith('.md'))];
  expect(documents.flatMap(deadLinks)).toEqual([]);
});

function decisionFiles(): string[] {
  return below((name) => name === 'decisions.md' || name.endsWith('/decisions.md'));
}

function below(wanted: (name: string) => boolean): string[] {
  return FOLDERS.flatMap((folder) =>
    readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' })
      .filter(wanted)
      .map((name) => `${folder}/${name}`),
  );
}

function deadLinks(document: string): string[] {
  return (
    [...read(document).matchAll(/\]\(([^)\s]+)\)/g)]
      .map((match) => match[1] ?? '')
      // what the server serves, and the web, are not files here
      .filter((target) => !/^(https?:|\/)/.test(target))
      .filter((target) => !leadsSomewhere(document, target))
      .map((target) => `${document}: ${target}`)
  );
}

function leadsSomewhere(document: string, target: string): boolean {
  const [path = '', anchor] = target.split('#');
  const file = path === '' ? document : join(dirname(document), path);
  if (!existsSync(join(ROOT, file))) return false;
  return anchor === undefined || anchorsOf(read(file)).includes(anchor);
}

/** The anchors that readers of Markdown make of headings: lower case, without punctuation, hyphens for spaces. */
function anchorsOf(markdown: string): string[] {
  return [...markdown.matchAll(/^#+ (.+)$/gm)].map((match) =>
    (match[1] ?? '')
      .toLowerCase()
      .replaceAll(/[^\p{L}\p{N}\s_-]/gu, '')
      .replaceAll(' ', '-'),
  );
}

function read(file: string): string {
  return readFileSync(join(ROOT, file), 'utf8');
}

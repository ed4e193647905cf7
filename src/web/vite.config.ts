/* oxlint-disable eslint/no-restricted-imports -- part of the build, not of a page: it runs in Node.js */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { defineConfig, type Plugin, type Rolldown } from 'vite';
import { brotliCompressSync, gzipSync } from 'node:zlib';
import { LANGUAGES } from './shared/text.ts';

type Bundle = Rolldown.OutputBundle;
type Chunk = Rolldown.OutputChunk;

/** What the worker keeps for a page; the version is a hash over all of it. */
export interface Shell {
  version: string;
  files: readonly string[];
}

const PLACEHOLDER = '__SHELLS__';
const WORKER = 'worker.js';
/** From `public/`: what an installed page shows of itself. */
const FIXED = ['icon.svg', 'icon-192.png', 'icon-512.png'];
const MANIFESTS: Readonly<Record<string, string>> = { gate: 'gate.webmanifest' };

/**
 * Tells the worker which files each page is made of, and each page its version (`<meta name="version">`), so that what
 * runs can say what it is.
 */
function shells(pages: readonly string[]): Plugin {
  let publicDir = '';
  return {
    name: 'shells',
    configResolved(config) {
      ({ publicDir } = config);
    },
    generateBundle: {
      order: 'post',
      handler(_options, bundle) {
        for (const page of pages) hurry(bundle, page);
        const made = Object.fromEntries(pages.map((page) => [page, shellOf(page, bundle, publicDir)]));
        const worker = bundle[WORKER];
        if (worker?.type !== 'chunk' || !worker.code.includes(PLACEHOLDER)) throw new Error(`no ${WORKER} to fill`);
        if (/\bimport\b[^;]*from|\bexport\b/.test(worker.code)) throw new Error(`${WORKER} must stand alone`);
        worker.code = worker.code.replace(PLACEHOLDER, () => JSON.stringify(made));
        for (const page of pages) tellVersion(bundle, page, made[page]?.version ?? '');
      },
    },
  };
}

const chunksOf = (bundle: Bundle): Chunk[] =>
  Object.values(bundle).filter((file): file is Chunk => file.type === 'chunk');

const earlyOf = (bundle: Bundle, page: string): Chunk | undefined =>
  chunksOf(bundle).find(({ isEntry, name }) => isEntry && name === `${page}-early`);

/** Puts first what a page runs before all else, where it has such a script, and tells it the files of the page's texts. */
function hurry(bundle: Bundle, page: string): void {
  const early = earlyOf(bundle, page);
  const html = bundle[`${page}/index.html`];
  if (early === undefined || html?.type !== 'asset') return;
  if (early.imports.length > 0) throw new Error(`${early.fileName} must stand alone`);
  const texts = (language: string): string[] =>
    ['shared', 'shared/holds', page].flatMap((folder) => {
      const file = `/web/${folder}/text/${language}.json`;
      return chunksOf(bundle)
        .filter(({ moduleIds }) => moduleIds.some((id) => id.endsWith(file)))
        .map(({ fileName }) => `/${fileName}`);
    });
  const byLanguage = Object.fromEntries(LANGUAGES.map((language) => [language, texts(language)]));
  const script = `<script type="module" async src="/${early.fileName}" data-texts='${JSON.stringify(byLanguage)}'></script>`;
  html.source = html.source.toString().replace('<script', `${script}\n    <script`);
}

function shellOf(page: string, bundle: Bundle, publicDir: string): Shell {
  const hash = createHash('sha256');
  const files = [...filesOf(page, bundle)].sort();
  for (const file of files) hash.update(`${file}\n`);
  hash.update(htmlOf(page, bundle));
  const fixed = [...FIXED, ...(MANIFESTS[page] === undefined ? [] : [MANIFESTS[page]])];
  for (const file of fixed) hash.update(readFileSync(join(publicDir, file)));
  return { version: hash.digest('hex').slice(0, 8), files: [...files, ...fixed].map((file) => `/${file}`) };
}

const htmlOf = (page: string, bundle: Bundle): string => {
  const html = bundle[`${page}/index.html`];
  if (html?.type !== 'asset') throw new Error(`no page ${page}`);
  return html.source.toString();
};

/** All scripts that the page can come to load, in each language, and their styles. */
function filesOf(page: string, bundle: Bundle): Set<string> {
  const chunks = chunksOf(bundle);
  const byName = new Map(chunks.map((chunk) => [chunk.fileName, chunk]));
  const entry = chunks.find(({ isEntry, name }) => isEntry && name === page);
  if (entry === undefined) throw new Error(`no script of ${page}`);
  const files = new Set<string>();
  const early = earlyOf(bundle, page);
  if (early !== undefined) files.add(early.fileName);
  const walk = (name: string): void => {
    const chunk = byName.get(name);
    if (chunk === undefined || files.has(name)) return;
    files.add(name);
    const { importedCss, importedAssets } = (chunk as Chunk & { viteMetadata?: Metadata }).viteMetadata ?? {};
    for (const file of [...(importedCss ?? []), ...(importedAssets ?? [])]) files.add(file);
    for (const next of [...chunk.imports, ...chunk.dynamicImports]) walk(next);
  };
  walk(entry.fileName);
  return files;
}

interface Metadata {
  importedCss: Set<string>;
  importedAssets: Set<string>;
}

function tellVersion(bundle: Bundle, page: string, version: string): void {
  const html = bundle[`${page}/index.html`];
  if (html?.type !== 'asset') return;
  html.source = html.source.toString().replace('</head>', `  <meta name="version" content="${version}" />\n  </head>`);
}

const PAGES = ['garage', 'line', 'gate', 'office', 'enrol', 'car', 'shop', 'workshop'];
/**
 * What every page opens before anything else, as one file: each request costs its headers, about as much as a small file
 * itself, and a gate with little of a network waits for each.
 */
const BASE =
  /node_modules\/(preact|@preact)\/|\/web\/(shared\/(text|boot|frame|access|session|device-store|times|outbox|stops)|api\/call)\.tsx?$/;
/** What all pages but the gate's open before they show a measurement, and send what waits. */
const MEASURES =
  /\/domain\/(quantity|catalogue\/item|rules\/says\/sentence)\.ts$|\/web\/shared\/(units|says|holds\/unsent-stops)\.tsx?$|node_modules\/uuid\//;
/** What both the entrant and his shop answer with. */
const ANSWERS =
  /\/web\/garage\/(item\/[\w-]+|conflicts|context|head|units-panel|kept\/(answers-count|declaration|form|keep|photos|sync))\.tsx?$|\/web\/(garage\/garage|shared\/car-plan)\.css$/;
const COMPRESSED = /\.(js|css|html|svg|json|webmanifest)$/;
const LEAST_BYTES = 1000;

/** Each file also as `.br` and `.gz`, so that the server compresses nothing at a request. */
function compress(): Plugin {
  return {
    name: 'compress',
    generateBundle: {
      // After Vite itself has put its last words into the code.
      order: 'post',
      handler(_options, bundle) {
        for (const [fileName, file] of Object.entries(bundle)) {
          const source = Buffer.from(file.type === 'chunk' ? file.code : file.source);
          if (!COMPRESSED.test(fileName) || source.byteLength < LEAST_BYTES) continue;
          this.emitFile({ type: 'asset', fileName: `${fileName}.br`, source: brotliCompressSync(source) });
          this.emitFile({ type: 'asset', fileName: `${fileName}.gz`, source: gzipSync(source, { level: 9 }) });
        }
      },
    },
  };
}

export default defineConfig({
  root: import.meta.dirname,
  plugins: [shells(['garage', 'line', 'gate', 'car', 'shop']), compress()],
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: '../../dist/web',
    emptyOutDir: true,
    target: 'es2022',
    // No inline script or style: the pages' Content-Security-Policy allows none.
    modulePreload: { polyfill: false },
    assetsInlineLimit: 0,
    rolldownOptions: {
      input: {
        ...Object.fromEntries(PAGES.map((page) => [page, `${import.meta.dirname}/${page}/index.html`])),
        'garage-early': `${import.meta.dirname}/garage/early.ts`,
        worker: `${import.meta.dirname}/worker/worker.ts`,
      },
      output: {
        // A service worker is known by its address: it has no hash in its name.
        codeSplitting: {
          groups: [
            { name: 'base', test: BASE },
            { name: 'measures', test: MEASURES },
            { name: 'answers', test: ANSWERS },
          ],
        },
        entryFileNames: ({ name }) => (name === 'worker' ? 'worker.js' : 'assets/[name]-[hash].js'),
      },
    },
  },
});

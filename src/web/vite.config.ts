/* oxlint-disable eslint/no-restricted-imports -- part of the build, not of a page: it runs in Node.js */
import { brotliCompressSync, gzipSync } from 'node:zlib';
import { defineConfig, type Plugin } from 'vite';
import { shells } from './worker/shells.ts';

const PAGES = ['garage', 'line', 'gate', 'office', 'enrol', 'car', 'shop', 'workshop'];
/**
 * What every page opens before anything else, as one file: each request costs its headers, about as much as a small file
 * itself, and a gate with little of a network waits for each.
 */
const BASE =
  /node_modules\/(preact|@preact)\/|\/web\/(shared\/(text|words|boot|frame|access|session|device-store|times|outbox|stops)|api\/call)\.tsx?$/;
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

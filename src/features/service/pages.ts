import type { FastifyInstance, FastifyReply } from 'fastify';
import { marked } from 'marked';
import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { z } from 'zod';
import { CAUTIONS } from '../../domain/cautions.ts';
import { notFound } from '../../http/frame/problem.ts';
import { PROBLEMS, type ProblemSlug } from '../../http/frame/problems.ts';
import { DOCUMENTS } from '../../http/openapi/documents.ts';

/** The front page: where things are, and what every reader must know before using them. */
function indexPage(): string {
  const { general, ...ofTasks } = CAUTIONS;
  return page(
    'Gridworthy',
    html`<h1>Gridworthy</h1>
<p>Technical inspection of cars before an event: declare, judge, inspect, sign off, admit.</p>
<p><strong>${general.text}</strong></p>
<h2>Pages</h2>
<ul>
<li><a href="/garage">Garage</a>: the entrant declares the inspection of his car</li>
<li><a href="/car">Your car</a>: the owner keeps what the car is, once for all events</li>
<li><a href="/shop">Shop</a>: who prepares cars of several owners</li>
<li><a href="/line">Tech line</a>: the inspector takes the next car and signs off</li>
<li><a href="/gate">Gate</a>: the marshal types a car number</li>
<li><a href="/office">Race office</a>: the organizer and the chief inspector</li>
</ul>
<p>Each needs access: a link for entrants, a code for devices of the staff.</p>
<h2>Guide</h2>
<ul>
${GUIDE.map(({ name, title, about }) => html`<li><a href="/docs/${name}">${title}</a>: ${about}</li>`)}
</ul>
<h2>For programs</h2>
<ul>
<li><a href="/docs">API documentation</a></li>
${Object.entries(DOCUMENTS).map(([name, { about }]) => html`<li><a href="/${name}.json">OpenAPI document</a>: ${about}</li>`)}
<li><a href="/rule-set.schema.json">JSON Schema of a rule set</a></li>
<li><a href="/problems">What each problem means</a></li>
</ul>
<h2>Cautions</h2>
<ul>
${Object.values(ofTasks).map((caution) => html`<li>${caution.text}</li>`)}
</ul>`,
  );
}

/** All problems this server answers with. */
function problemsPage(): string {
  // The keys of PROBLEMS are slugs by definition; Object.keys loses the type.
  const slugs = Object.keys(PROBLEMS) as ProblemSlug[];
  return page(
    'Problems',
    html`<h1>Problems</h1>
<p>An answer that is not a success is a problem document whose <code>type</code> leads to one of these pages.</p>
<ul>
${slugs.map((slug) => html`<li><a href="/problems/${slug}">${PROBLEMS[slug].title}</a> (${PROBLEMS[slug].status}, <code>${slug}</code>)</li>`)}
</ul>`,
  );
}

/** Cause and remedy of one problem. */
function problemPage(slug: ProblemSlug): string {
  const { title, status, cause, remedy } = PROBLEMS[slug];
  return page(
    title,
    html`<h1>${title}</h1>
<dl>
<dt>Status</dt><dd>${status}</dd>
<dt>Code</dt><dd><code>${slug}</code></dd>
<dt>Cause</dt><dd>${cause}</dd>
<dt>Remedy</dt><dd>${remedy}</dd>
</dl>
<p><a href="/problems">All problems</a></p>`,
  );
}

const slugParams = z.strictObject({ slug: z.string().max(100) });

/** Pages for people: the index and what each problem means. They are not part of the API document. */
export async function pageRoutes(app: FastifyInstance): Promise<void> {
  const hidden = { config: { access: 'public' }, schema: { hide: true } } as const;
  app.get('/', hidden, async (_request, reply) => sendPage(reply, indexPage()));
  app.get('/problems', hidden, async (_request, reply) => sendPage(reply, problemsPage()));
  app.get('/problems/:slug', { ...hidden, schema: { hide: true, params: slugParams } }, async (request, reply) => {
    const { slug } = slugParams.parse(request.params);
    if (!isSlug(slug)) throw notFound('problem');
    return sendPage(reply, problemPage(slug));
  });
}

function isSlug(text: string): text is ProblemSlug {
  return Object.hasOwn(PROBLEMS, text);
}

function sendPage(reply: FastifyReply, text: string): FastifyReply {
  return reply.headers(PAGE_HEADERS).send(text);
}

const HIDDEN = { config: { access: 'public' }, schema: { hide: true } } as const;

/** The pages of the guide by name, which is also the file in `openapi/guide/`, with their titles. */
export const GUIDE: readonly { name: string; title: string; about: string }[] = [
  { name: 'start', title: 'Start of an own event', about: 'from an empty server to entrants who declare' },
  { name: 'shops', title: 'Shops', about: 'for who prepares cars of several owners' },
  { name: 'rule-sets', title: 'Rule sets', about: 'how to write, check, try and publish one' },
  { name: 'install', title: 'Install', about: 'in containers or without, HTTPS' },
  { name: 'operate', title: 'Operate', about: 'settings, HTTPS, backup and restore, personal data' },
  { name: 'integrate', title: 'Integrate', about: 'roles, flow, the API in short, stream, webhooks' },
];

/** What callers and operators read: Markdown files of ours as pages below `/docs/`. */
export async function guideRoutes(app: FastifyInstance): Promise<void> {
  for (const { name, title } of GUIDE) {
    let text: Promise<string> | undefined;
    app.get(`/docs/${name}`, HIDDEN, async (_request, reply) => {
      text ??= renderPage(name, title);
      return reply.headers(PAGE_HEADERS).send(await text);
    });
  }
}

/** The files are ours, so that what `marked` makes of them needs no cleaning. */
async function renderPage(name: string, title: string): Promise<string> {
  const markdown = await readFile(join(projectFolder(), 'openapi', 'guide', `${name}.md`), 'utf8');
  const body = await marked.parse(markdown);
  // in the files the pages link each other as files, so that they can be read without a server
  return page(title, { html: body.replaceAll(/href="([a-z-]+)\.md"/g, 'href="/docs/$1"') });
}

/** Text that is safe in HTML: made by `html`, never by hand. */
interface Html {
  readonly html: string;
}

type Part = string | number | Html | readonly Html[];

/** Builds HTML; every value that is not HTML already is escaped. */
function html(texts: TemplateStringsArray, ...parts: readonly Part[]): Html {
  return { html: texts.map((text, i) => text + toText(parts[i] ?? '')).join('') };
}

function toText(part: Part): string {
  if (typeof part !== 'object') return escape(String(part));
  return 'html' in part ? part.html : part.map((each) => each.html).join('\n');
}

function escape(text: string): string {
  return text
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;');
}

const STYLE = `
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 44rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.5rem; line-height: 1.2; }
code { font-size: 0.95em; }
dt { font-weight: 600; margin-top: 0.75rem; }
dd { margin-left: 0; }
pre { overflow-x: auto; padding: 0.75rem; border: 1px solid; }
table { border-collapse: collapse; display: block; overflow-x: auto; }
th, td { border: 1px solid; padding: 0.25rem 0.5rem; text-align: left; vertical-align: top; }
`;

const STYLE_HASH = createHash('sha256').update(STYLE).digest('base64');

/** Headers of a page that may load nothing, run nothing and be framed by nobody. */
const PAGE_HEADERS: Readonly<Record<string, string>> = {
  'content-type': 'text/html; charset=utf-8',
  'content-security-policy':
    `default-src 'none'; style-src 'sha256-${STYLE_HASH}'; base-uri 'none'; form-action 'none'; ` +
    "frame-ancestors 'none'",
  'cache-control': 'public, max-age=300',
};

/** A whole page. */
function page(title: string, body: Html): string {
  // STYLE is ours; escaping would change it, and with it the hash that lets it apply.
  const style: Html = { html: `<style>${STYLE}</style>` };
  return html`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>${title}</title>
${style}
</head>
<body>
${body}
</body>
</html>
`.html;
}

/** The folder of the project, also when this file was compiled into `dist`. */
export function projectFolder(): string {
  const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..', '..');
  return root.endsWith('dist') ? dirname(root) : root;
}

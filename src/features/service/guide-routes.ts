import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { marked } from 'marked';
import { projectFolder } from '../../http/frame/project-folder.ts';
import { PAGE_HEADERS, page } from './html.ts';

const HIDDEN = { config: { access: 'public' }, schema: { hide: true } } as const;

/** The pages of the guide by name, which is also the file in `openapi/guide/`, with their titles. */
export const GUIDE: readonly { name: string; title: string; about: string }[] = [
  { name: 'start', title: 'Start of an own event', about: 'from an empty server to entrants who declare' },
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

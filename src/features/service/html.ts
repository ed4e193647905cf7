import { createHash } from 'node:crypto';

/** Text that is safe in HTML: made by `html`, never by hand. */
export interface Html {
  readonly html: string;
}

type Part = string | number | Html | readonly Html[];

/** Builds HTML; every value that is not HTML already is escaped. */
export function html(texts: TemplateStringsArray, ...parts: readonly Part[]): Html {
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
export const PAGE_HEADERS: Readonly<Record<string, string>> = {
  'content-type': 'text/html; charset=utf-8',
  'content-security-policy':
    `default-src 'none'; style-src 'sha256-${STYLE_HASH}'; base-uri 'none'; form-action 'none'; ` +
    "frame-ancestors 'none'",
  'cache-control': 'public, max-age=300',
};

/** A whole page. */
export function page(title: string, body: Html): string {
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

import type { Plot } from './plot.ts';
import { specOf } from './plot-spec.ts';

/**
 * Draws a plot as SVG text: one image for assistive technology, with its title and its description in words. It holds
 * no script and refers to nothing outside.
 */
export async function renderSvg(plot: Plot): Promise<string> {
  // Loaded at the first plot: it takes longer to load than all the rest of the server, and most servers draw none.
  const { parse, View } = await import('vega');
  const view = new View(parse(specOf(plot)), { renderer: 'none', loader: NO_LOADER });
  try {
    return withAlternative(await view.toSVG(), plot);
  } finally {
    view.finalize();
  }
}

/** There is nothing to load: all data is in the specification. */
const refuse = (): Promise<never> => Promise.reject(new Error('a plot loads nothing'));
const NO_LOADER = { load: refuse, sanitize: refuse, http: refuse, file: refuse };

function withAlternative(svg: string, { title, description }: Plot): string {
  const alternative = `<title>${escapeXml(title)}</title><desc>${escapeXml(description)}</desc>`;
  return svg.replace(
    /^<svg([^>]*)>/,
    (_, attributes: string) =>
      `<svg${attributes} role="img" aria-label="${escapeXml(`${title}. ${description}`)}">${alternative}`,
  );
}

const ESCAPES: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };
const escapeXml = (text: string): string => text.replaceAll(/[&<>"]/g, (char) => ESCAPES[char] ?? char);

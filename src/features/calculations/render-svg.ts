import type { Data, Mark, Spec, Axis as VegaAxis } from 'vega';
import type { Axis, Label, Limit, Line, Panel, Plot } from './plots.ts';

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

/** Of the whole picture, px. */
const WIDTH = 720;
const LEFT = 66;
/** room for the labels of the lines */
const RIGHT = 212;
const PANEL_WIDTH = WIDTH - LEFT - RIGHT;
const TITLE_HEIGHT = 30;
const HEADING_HEIGHT = 24;
const AXIS_HEIGHT = 54;
const FONT = 'Helvetica, Arial, sans-serif';
const FONT_SIZE = 12;
const LABEL_GAP = 15;
const LEADER = 14;
const INK = 'black';
/** Roles and labels of single marks would only repeat what the title and the description say. */
const SILENT = { aria: false } as const;

/**
 * A plot as a picture: panels one below the other, black on white, every line labelled in the right margin. All data
 * is in the specification; nothing is loaded.
 */
function specOf({ title, panels }: Plot): Spec {
  let top = TITLE_HEIGHT;
  const groups = panels.map((panel) => {
    const group = groupOf(panel, top + HEADING_HEIGHT);
    top += HEADING_HEIGHT + panel.heightPx + AXIS_HEIGHT;
    return group;
  });
  return {
    width: WIDTH,
    height: top,
    padding: 0,
    autosize: 'none',
    background: 'white',
    marks: [text(title, { x: LEFT, y: 20, size: 16, bold: true }), ...groups],
  };
}

function groupOf(panel: Panel, top: number): Mark {
  const { heightPx, x, y, lines, limits, labels } = panel;
  return {
    type: 'group',
    ...SILENT,
    encode: {
      enter: {
        x: { value: LEFT },
        y: { value: top },
        width: { value: PANEL_WIDTH },
        height: { value: heightPx },
      },
    },
    scales: [
      { name: 'x', type: 'linear', domain: [...x.domain], range: [0, PANEL_WIDTH], zero: false },
      { name: 'y', type: 'linear', domain: [...y.domain], range: [heightPx, 0], zero: false },
    ],
    axes: [axis('left', y, Math.round(heightPx / 45)), axis('bottom', x, 8)],
    data: lines.map((line, i): Data => ({ name: `line${i}`, values: line.points.map((point) => ({ ...point })) })),
    marks: [
      text(panel.heading, { x: 0, y: -10, size: FONT_SIZE, bold: false }),
      ...limits.map(limitMark),
      ...lines.flatMap(lineMarks),
      ...labelMarks([...labels, ...limits], panel),
    ],
  };
}

const axis = (orient: 'bottom' | 'left', { title, whole }: Axis, tickCount: number): VegaAxis => ({
  orient,
  ...SILENT,
  scale: orient === 'bottom' ? 'x' : 'y',
  title,
  tickCount,
  ...(whole === true ? { tickMinStep: 1, format: 'd' } : {}),
  ...(orient === 'left' ? { grid: true, gridScale: 'x' } : {}),
  gridColor: '#d0d0d0',
  domainColor: INK,
  tickColor: INK,
  labelColor: INK,
  titleColor: INK,
  labelFont: FONT,
  titleFont: FONT,
  labelFontSize: FONT_SIZE - 1,
  titleFontSize: FONT_SIZE,
  titleFontWeight: 'normal',
  titlePadding: 8,
});

function lineMarks({ dash, strokeWidth, symbol }: Line, i: number): Mark[] {
  const from = { data: `line${i}` };
  const x = { scale: 'x', field: 'x' };
  const y = { scale: 'y', field: 'y' };
  const stroke = { value: INK };
  const line: Mark = {
    type: 'line',
    ...SILENT,
    from,
    encode: { enter: { x, y, stroke, strokeWidth: { value: strokeWidth }, strokeDash: { value: [...dash] } } },
  };
  if (symbol === undefined) return [line];
  const fill = { value: symbol === 'circle' ? INK : 'white' };
  const look = { shape: { value: symbol }, size: { value: 34 }, fill, strokeWidth: { value: 1.3 } };
  return [line, { type: 'symbol', ...SILENT, from, encode: { enter: { x, y, stroke, ...look } } }];
}

const limitMark = ({ y, dash }: Limit): Mark => ({
  type: 'rule',
  ...SILENT,
  encode: {
    enter: {
      x: { value: 0 },
      x2: { value: PANEL_WIDTH },
      y: { scale: 'y', value: y },
      stroke: { value: INK },
      strokeWidth: { value: 1.2 },
      strokeDash: { value: [...dash] },
    },
  },
});

/** Each label with a thin line to what it names, so that labels may stand apart where values are close. */
function labelMarks(labels: readonly Label[], { y, heightPx }: Panel): Mark[] {
  const [low, high] = y.domain;
  const exact = labels.map((label) => heightPx * (1 - (label.y - low) / (high - low)));
  const placed = spreadLabels(exact, { gap: LABEL_GAP, low: 0, high: heightPx });
  return labels.flatMap((label, i): Mark[] => {
    const [from, to] = [exact[i] ?? 0, placed[i] ?? 0];
    const leader = { x: { value: PANEL_WIDTH + 2 }, x2: { value: PANEL_WIDTH + LEADER }, y: { value: from } };
    const thin = { y2: { value: to }, stroke: { value: INK }, strokeWidth: { value: 0.6 } };
    return [
      { type: 'rule', ...SILENT, encode: { enter: { ...leader, ...thin } } },
      text(label.text, { x: PANEL_WIDTH + LEADER + 4, y: to + FONT_SIZE / 3, size: FONT_SIZE, bold: false }),
    ];
  });
}

const text = (value: string, at: { x: number; y: number; size: number; bold: boolean }): Mark => ({
  type: 'text',
  ...SILENT,
  encode: {
    enter: {
      x: { value: at.x },
      y: { value: at.y },
      text: { value },
      font: { value: FONT },
      fontSize: { value: at.size },
      fontWeight: { value: at.bold ? 'bold' : 'normal' },
      fill: { value: INK },
    },
  },
});

/**
 * Moves labels apart that would overlap: heights in px in, heights in px out in the same order, at least `gap` apart
 * and between `low` and `high` as far as they fit. Labels keep the order of what they name; those that do not overlap
 * stay where they are.
 */
export function spreadLabels(
  wanted: readonly number[],
  { gap, low, high }: { gap: number; low: number; high: number },
): number[] {
  const order = [...wanted.keys()].sort((a, b) => (wanted[a] ?? 0) - (wanted[b] ?? 0));
  const placed = order.map((index) => wanted[index] ?? 0);
  for (let i = 0, least = low; i < placed.length; i++) {
    placed[i] = Math.max(placed[i] ?? 0, least);
    least = (placed[i] ?? 0) + gap;
  }
  for (let i = placed.length - 1, most = high; i >= 0; i--) {
    placed[i] = Math.min(placed[i] ?? 0, most);
    most = (placed[i] ?? 0) - gap;
  }
  const result = [...wanted];
  for (const [place, index] of order.entries()) result[index] = placed[place] ?? 0;
  return result;
}

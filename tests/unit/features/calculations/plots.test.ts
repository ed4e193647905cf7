import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { BRAKE_HEAT } from '../../../../src/domain/trade/brakes/brake-heat.ts';
import type { BrakeHeatResult } from '../../../../src/domain/trade/brakes/brake-heat-result.ts';
import { NotComputable } from '../../../../src/domain/trade/calculation.ts';
import { PAD_POSITIONS, type PadForecastResult } from '../../../../src/domain/trade/brakes/pad-forecast-wear.ts';
import { PAD_FORECAST } from '../../../../src/domain/trade/brakes/pad-forecast.ts';
import { type Plot, plotBrakeHeat, plotPadForecast } from '../../../../src/features/calculations/plots.ts';
import { renderSvg } from '../../../../src/features/calculations/render-svg.ts';
import { arbBody } from './arbitrary-bodies.ts';
import { type Element, everyElement, readSvg } from './read-svg.ts';

const EXAMPLE = BRAKE_HEAT.example as object;

function brakeHeat(changes: object = {}): { plot: Plot; result: BrakeHeatResult } {
  const input = BRAKE_HEAT.input.parse({ ...EXAMPLE, ...changes });
  const { result } = BRAKE_HEAT.compute(input);
  return { plot: plotBrakeHeat(input, result), result };
}

function padForecast(body: unknown): { plot: Plot; result: PadForecastResult } {
  const { result } = PAD_FORECAST.compute(PAD_FORECAST.input.parse(body));
  return { plot: plotPadForecast(result), result };
}

const history = (...thicknesses: number[]) => thicknesses.map((thicknessMm, i) => ({ thicknessMm, sessions: i * 5 }));
/** All eight pads, some of them used up before the end. */
const EIGHT = {
  pads: PAD_POSITIONS.map((position, i) => ({ position, history: history(10.8, 9 - i * 0.3, 7.3 - i * 0.6) })),
  sessionsToCome: 12,
};

const draw = async (plot: Plot): Promise<Element> => readSvg(await renderSvg(plot));
const textsOf = (svg: Element): string[] =>
  everyElement(svg)
    .filter(({ name }) => name === 'text')
    .map(({ text }) => text);
const dashesOf = (svg: Element): (string | undefined)[] =>
  everyElement(svg).map(({ attributes }) => attributes['stroke-dasharray']);

/** Elements with the sum of the shifts above them, px. */
function placed(element: Element, x = 0, y = 0): { element: Element; x: number; y: number }[] {
  const shift = /translate\((-?[\d.]+)[, ]*(-?[\d.]+)\)/u.exec(element.attributes['transform'] ?? '');
  const at = { x: x + Number(shift?.[1] ?? 0), y: y + Number(shift?.[2] ?? 0) };
  return [{ element, ...at }, ...element.children.flatMap((child) => placed(child, at.x, at.y))];
}

const CASES: readonly [string, () => Plot][] = [
  ['brake heat', () => brakeHeat().plot],
  ['brake heat of one lap', () => brakeHeat({ laps: 1 }).plot],
  ['brake heat of glowing rotors', () => brakeHeat({ laps: 20, massKg: 2000, front: { massKg: 5 } }).plot],
  ['pads', () => padForecast(PAD_FORECAST.example).plot],
  ['eight pads', () => padForecast(EIGHT).plot],
];

describe.each(CASES)('the plot of %s', (_what, make) => {
  test('is one image with a title and a description in words', async () => {
    const plot = make();
    const svg = await draw(plot);
    expect(svg.name).toBe('svg');
    expect(svg.attributes).toMatchObject({ xmlns: 'http://www.w3.org/2000/svg', role: 'img', width: '720' });
    expect(svg.attributes['aria-label']).toBe(`${plot.title}. ${plot.description}`);
    expect(svg.children.slice(0, 2).map(({ name, text }) => [name, text])).toEqual([
      ['title', plot.title],
      ['desc', plot.description],
    ]);
    expect(textsOf(svg)).toContain(plot.title);
    expect(plot.description).toMatch(/\d (?:°C|mm)/u);
    expect(plot.description).not.toMatch(/NaN|undefined|Infinity/u);
  });

  test('has axes with units and the labels of all its lines and limits', async () => {
    const { panels } = make();
    const texts = textsOf(await draw(make()));
    for (const { x, y, labels, limits } of panels) {
      expect(`${x.title} | ${y.title}`).toMatch(/^(?:.*, s|Lap|Sessions driven) \| .*, (?:°C|mm)$/u);
      for (const said of [x.title, y.title, ...[...labels, ...limits].map(({ text }) => text)]) {
        expect(texts).toContain(said);
      }
    }
    expect(panels.some(({ limits }) => limits.length > 0)).toBe(true);
    expect(texts.join(' ')).not.toMatch(/NaN|undefined|Infinity/u);
  });

  test('says nothing by colour: black, white and grey only', async () => {
    const colours = everyElement(await draw(make())).flatMap(({ attributes }) =>
      ['fill', 'stroke', 'color', 'stop-color', 'style'].flatMap((name) => attributes[name] ?? []),
    );
    expect([...new Set(colours)].filter((colour) => !['black', 'white', 'none', '#d0d0d0'].includes(colour))).toEqual(
      [],
    );
  });

  test('holds no script, no handler and no reference to anything', async () => {
    const svg = await draw(make());
    const allowed = ['svg', 'title', 'desc', 'g', 'path', 'line', 'rect', 'text'];
    for (const { name, attributes } of everyElement(svg)) {
      expect(allowed).toContain(name);
      for (const [attribute, value] of Object.entries(attributes)) {
        expect(attribute).not.toMatch(/^on|href|src/iu);
        if (!attribute.startsWith('xmlns')) expect(value).not.toMatch(/url\(|https?:|data:|javascript:/iu);
      }
    }
  });

  test('keeps its text inside and apart', async () => {
    const svg = await draw(make());
    const height = Number(svg.attributes['height']);
    const texts = placed(svg).filter(({ element }) => element.name === 'text' && !rotated(element));
    const boxes = texts.map(({ element, x, y }) => {
      // a letter of these fonts is about 0.55 of its size wide
      const width = element.text.length * Number.parseFloat(element.attributes['font-size'] ?? '0') * 0.55;
      const anchor = { middle: width / 2, end: width }[element.attributes['text-anchor'] ?? ''] ?? 0;
      return { text: element.text, left: x - anchor, right: x - anchor + width, y };
    });
    for (const { text, left, right, y } of boxes) {
      expect(left, text).toBeGreaterThanOrEqual(0);
      expect(right, text).toBeLessThanOrEqual(720);
      expect(y, text).toBeLessThanOrEqual(height);
      const over = boxes.filter((other) => other.text !== text && Math.abs(other.y - y) < 10);
      expect(over.filter((other) => other.left < right && left < other.right).map((other) => other.text)).toEqual([]);
    }
  });
});

function rotated({ attributes }: Element): boolean {
  return (attributes['transform'] ?? '').includes('rotate');
}

describe('the plot of brake heat', () => {
  test('shows the hottest lap from its start to its end, and the peak of every lap', () => {
    const { plot, result } = brakeHeat();
    const [lap, peaks] = plot.panels;
    expect(lap?.heading).toContain(`(${result.front.peakLap} of 10)`);
    for (const [i, axle] of (['front', 'rear'] as const).entries()) {
      const points = lap?.lines[i]?.points ?? [];
      expect(points[0]?.x).toBe(0);
      expect(points.at(-1)?.x).toBeCloseTo(result.lap.timeS, 0);
      expect(Math.round(Math.max(...points.map(({ y }) => y)))).toBe(result[axle].peakC);
      expect(peaks?.lines[i]?.points.map(({ y }) => y)).toEqual(result[axle].lapPeakC);
    }
  });

  test('draws what it asks of pads and fluid, and where iron softens when the rotors come near', () => {
    const { plot, result } = brakeHeat();
    const limits = plot.panels[0]?.limits.map(({ y }) => y) ?? [];
    const { duty } = result;
    expect(limits).toEqual(
      expect.arrayContaining([...Object.values(duty.padHighTemperatureNeededC), duty.fluidWetBoilingPointNeededC]),
    );
    expect(limits).toContain(650);
    const cool = brakeHeat({ massKg: 600 }).plot.panels[0]?.limits.map(({ y }) => y);
    expect(cool).not.toContain(650);
    const carbon = brakeHeat({ front: { material: 'carbon' }, rear: { material: 'carbon' } }).plot;
    expect(carbon.panels[0]?.limits.map(({ y }) => y)).not.toContain(650);
  });

  test('tells front and rear apart by dashes', async () => {
    const { plot } = brakeHeat();
    const [front, rear] = plot.panels[0]?.lines ?? [];
    expect(front?.dash).not.toEqual(rear?.dash);
    const dashes = dashesOf(await draw(plot));
    expect(dashes).toContain('7,4');
    expect(new Set(plot.panels[0]?.limits.map(({ dash }) => dash.join())).size).toBe(3);
  });
});

describe('the plot of pads', () => {
  test('shows readings and forecast with the minimum and the road-test floor', () => {
    const { plot } = padForecast(PAD_FORECAST.example);
    const [panel] = plot.panels;
    expect(panel?.lines[0]?.points).toEqual(
      history(10.8, 9.1, 7.2).map(({ thicknessMm: y, sessions: x }) => ({ x, y })),
    );
    expect(panel?.lines[1]?.points).toEqual([
      { x: 10, y: 7.2 },
      { x: 16, y: 4.92 },
    ]);
    expect(panel?.limits.map(({ y }) => y)).toEqual([2, 1.5]);
    expect(panel?.labels[0]?.text).toBe('FL.in: 4.92 mm at the end');
  });

  test('ends the line of a pad where it is used up', () => {
    // 0.75 mm a session from 4.5 mm: nothing left after 6 more sessions
    const { plot } = padForecast({
      pads: [{ position: 'RR.out', history: history(12, 8.25, 4.5) }],
      sessionsToCome: 9,
    });
    const [panel] = plot.panels;
    expect(panel?.lines[1]?.points).toEqual([
      { x: 10, y: 4.5 },
      { x: 16, y: 0 },
    ]);
    expect(panel?.labels[0]?.text).toBe('RR.out: gone by session 16');
  });

  test('tells front and rear apart by dashes and symbols', () => {
    const lines = padForecast(EIGHT).plot.panels[0]?.lines ?? [];
    const [front, rear] = [lines[1], lines.at(-1)];
    expect(front?.dash).not.toEqual(rear?.dash);
    const symbols = lines.map(({ symbol }) => symbol);
    expect(new Set(symbols)).toEqual(new Set(['circle', 'square', undefined]));
  });
});

test('the reader of drawings refuses what is not well formed', () => {
  const bad = [
    '',
    '<a>',
    '<a></b>',
    '<a/><b/>',
    '<a b=1/>',
    '<a b="1" b="2"/>',
    '<a>&nbsp;</a>',
    '<?xml version="1.0"?><a/>',
  ];
  for (const text of bad) expect(() => readSvg(text), text).toThrow();
  expect(readSvg('<a b="&lt;">x<c/>&amp;</a>')).toMatchObject({ attributes: { b: '<' }, text: 'x&' });
});

test('whatever can be worked out can be drawn', async () => {
  const bodies = fc.oneof(
    arbBody(BRAKE_HEAT).map((body) => [BRAKE_HEAT, body] as const),
    arbBody(PAD_FORECAST).map((body) => [PAD_FORECAST, body] as const),
  );
  let drawn = 0;
  await fc.assert(
    fc.asyncProperty(bodies, async ([calculation, body]) => {
      const read = calculation.input.safeParse(body);
      if (!read.success) return;
      const plot = plotOf(calculation.name, read.data);
      if (plot === undefined) return;
      drawn += 1;
      const svg = await renderSvg(plot);
      expect(svg).not.toMatch(/NaN|undefined|Infinity/u);
      expect(readSvg(svg).attributes['role']).toBe('img');
    }),
    { numRuns: 150 },
  );
  expect(drawn).toBeGreaterThan(0);
});

function plotOf(name: string, body: unknown): Plot | undefined {
  try {
    return name === BRAKE_HEAT.name ? brakeHeat(body as object).plot : padForecast(body).plot;
  } catch (error) {
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

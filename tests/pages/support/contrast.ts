import type { Page } from 'playwright-core';

/**
 * Texts whose contrast with what is behind them is lower than this (WCAG 2.2, 1.4.3 and 1.4.6: relative luminance of
 * sRGB). Backgrounds of one colour only: a text on a picture or a gradient has to be looked at.
 */
export function lowContrast(page: Page, least: number, within = 'body'): Promise<string[]> {
  return page.locator(within).evaluate((root, minimum) => {
    type Rgb = readonly [number, number, number];
    const read = (css: string): { rgb: Rgb; alpha: number } => {
      const [red = 0, green = 0, blue = 0, alpha = 1] = (css.match(/[\d.]+/g) ?? []).map(Number);
      return { rgb: [red, green, blue], alpha };
    };
    const luminance = (rgb: Rgb): number => {
      const [red = 0, green = 0, blue = 0] = rgb.map((part) =>
        part / 255 <= 0.04045 ? part / 255 / 12.92 : ((part / 255 + 0.055) / 1.055) ** 2.4,
      );
      return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
    };
    const behind = (element: Element | null): Rgb => {
      if (element === null) return [255, 255, 255];
      const { rgb, alpha } = read(getComputedStyle(element).backgroundColor);
      return alpha === 1 ? rgb : behind(element.parentElement);
    };
    const low: string[] = [];
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
      const element = node.parentElement;
      if (element === null || (node.textContent ?? '').trim() === '' || element.closest('.unseen, noscript') !== null) {
        continue;
      }
      const [text, ground] = [luminance(read(getComputedStyle(element).color).rgb), luminance(behind(element))];
      const contrast = (Math.max(text, ground) + 0.05) / (Math.min(text, ground) + 0.05);
      if (contrast < minimum) low.push(`${contrast.toFixed(1)}: ${(node.textContent ?? '').trim().slice(0, 60)}`);
    }
    return low;
  }, least);
}

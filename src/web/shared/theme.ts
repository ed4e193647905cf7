/** `light` is made for sunlight. Dark never comes by itself: a phone that turns dark at the gate at noon cannot be read. */
export const THEMES = ['light', 'dark'] as const;
export type Theme = (typeof THEMES)[number];

const KEPT = 'gridworthy.theme';

export function currentTheme(): Theme {
  return localStorage.getItem(KEPT) === 'dark' ? 'dark' : 'light';
}

export function applyTheme(): void {
  document.documentElement.dataset['theme'] = currentTheme();
}

export function chooseTheme(theme: Theme): void {
  localStorage.setItem(KEPT, theme);
  applyTheme();
}

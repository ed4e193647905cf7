import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import { isNotKept } from './device-store.ts';
import { chooseLanguage, currentLanguage, LANGUAGES, words } from './text.ts';

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

const { t } = words;

interface FrameProps {
  /** heading of the page; the browser's title is set by `boot` */
  title: string;
  /** beside the heading: what must always be seen */
  aside?: ComponentChildren;
  /** nothing but the name of the page above the content: a phone in the hand has room for one thing */
  isSlim?: boolean;
  children: ComponentChildren;
}

/** What every page has: heading, language and display, content, and the caution. */
export function Frame({ title, aside, isSlim = false, children }: FrameProps) {
  return (
    <div class="page stack">
      <a class="skip button" href="#content">
        {t('skip')}
      </a>
      <header class={isSlim ? 'row spread slim' : 'row spread'}>
        <h1>{title}</h1>
        {aside}
        {!isSlim && <Choices />}
      </header>
      <main id="content" class="stack" tabIndex={-1}>
        {children}
      </main>
      <footer class="notice look">{t('caution')}</footer>
    </div>
  );
}

/** Language and display, as two small menus. */
export function Choices() {
  const [theme, setTheme] = useState(currentTheme());
  return (
    <div class="row no-print">
      <label>
        <span class="unseen">{t('language')}</span>
        <select
          value={currentLanguage()}
          onChange={(event) => {
            const language = LANGUAGES.find((one) => one === event.currentTarget.value);
            if (language !== undefined) chooseLanguage(language);
          }}
        >
          {LANGUAGES.map((language) => (
            <option key={language} value={language} lang={language}>
              {t(`language.${language}`)}
            </option>
          ))}
        </select>
      </label>
      <label>
        <span class="unseen">{t('theme')}</span>
        <select
          value={theme}
          onChange={(event) => {
            const chosen = THEMES.find((one) => one === event.currentTarget.value);
            if (chosen === undefined) return;
            chooseTheme(chosen);
            setTheme(chosen);
          }}
        >
          {THEMES.map((one) => (
            <option key={one} value={one}>
              {t(`theme.${one}`)}
            </option>
          ))}
        </select>
      </label>
    </div>
  );
}

/** Says on every page when what is typed is not kept on this device: without a network it would be lost with the page. */
export function NotKept() {
  return (
    <div role="alert" class="no-print">
      {isNotKept.value && <p class="notice bad">{words.t('not-kept')}</p>}
    </div>
  );
}

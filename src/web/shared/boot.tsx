import { type ComponentChild, render } from 'preact';
import './theme.css';
import { applyTheme } from './theme.ts';
import { currentLanguage, type Language } from './text.ts';
import { NotKept } from './not-kept.tsx';
import { words } from './words.ts';

interface Start {
  /** texts of the page, to be loaded before it is drawn */
  text: { load(language: Language): Promise<unknown> };
  title(): string;
  view(): ComponentChild;
}

/** Starts a page: language and display as this device chose them, then the view. */
export async function boot({ text, title, view }: Start): Promise<void> {
  const language = currentLanguage();
  applyTheme();
  await Promise.all([words.load(language), text.load(language)]);
  document.documentElement.lang = language;
  document.title = title();
  const app = document.querySelector('#app');
  if (app === null) throw new Error('the page has no #app');
  render(
    <>
      <NotKept />
      {view()}
    </>,
    app,
  );
}

import './pictures.css';
import { type Drawing, type DrawingName, DRAWINGS } from './drawings.ts';
import { DRAWINGS_OF, EFFORTS } from './of-item.ts';
import { defineText } from '../../shared/text.ts';

/** What drawings show and which tools are needed, fetched after the first look at the page. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
const { t } = text;

/** How an item is looked at: drawings of it, what is needed and how long it takes. */
export function HowTo({ item }: { item: string }) {
  const names = DRAWINGS_OF[item] ?? [];
  const effort = EFFORTS[item];
  return (
    <>
      {names.length > 0 && (
        <div class="pictures">
          {names.map((name) => (
            <Picture key={name} name={name} />
          ))}
        </div>
      )}
      {effort !== undefined && (
        <p class="soft">
          {t('effort', {
            tools: effort.tools.map((tool) => t(`tool.${tool}`)).join(', '),
            time: t('minutes', { count: effort.minutes }),
          })}
        </p>
      )}
    </>
  );
}

/** A drawing in the colours of the display; what it shows is said in words for who does not see it. */
function Picture({ name }: { name: DrawingName }) {
  const { line, thin, fill, accent }: Drawing = DRAWINGS[name];
  return (
    <svg class="picture" viewBox="0 0 240 160" role="img" aria-label={t(`picture.${name}`)} focusable="false">
      {fill !== undefined && <path class="fill" d={fill} />}
      {thin !== undefined && <path class="thin" d={thin} />}
      <path d={line} />
      {accent !== undefined && <path class="accent" d={accent} />}
    </svg>
  );
}

export interface Element {
  name: string;
  attributes: Record<string, string>;
  children: Element[];
  text: string;
}

const TOKEN = /<!--[\s\S]*?-->|<\/([\w:-]+)\s*>|<([\w:-]+)((?:\s+[\w:-]+="[^"<]*")*)\s*(\/?)>|([^<]+)/uy;
const ENTITIES: Readonly<Record<string, string>> = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'" };

function unescape(text: string): string {
  return text.replaceAll(/&(#\d+|\w*);?/gu, (whole, name: string) => {
    if (name.startsWith('#')) return String.fromCodePoint(Number(name.slice(1)));
    const known = ENTITIES[name];
    if (known === undefined || !whole.endsWith(';')) throw new Error(`not well formed: ${whole}`);
    return known;
  });
}

/**
 * Reads the XML that a drawing needs: elements, quoted attributes, text. Refuses anything that is not well formed, and
 * anything else that XML has (processing instructions, document types, CDATA), which a drawing of ours must not hold.
 */
export function readSvg(text: string): Element {
  const root: Element = { name: '', attributes: {}, children: [], text: '' };
  const open = [root];
  TOKEN.lastIndex = 0;
  while (TOKEN.lastIndex < text.length) {
    const at = TOKEN.lastIndex;
    const match = TOKEN.exec(text);
    if (match === null) throw new Error(`not well formed: ${text.slice(at, at + 60)}`);
    take(match, open);
  }
  const [only] = root.children;
  if (open.length !== 1 || only === undefined || root.children.length !== 1) throw new Error('not one closed element');
  return only;
}

function take([, closing, opening, attributes = '', empty, content]: RegExpExecArray, open: Element[]): void {
  const parent = open.at(-1);
  if (parent === undefined) throw new Error('everything is closed already');
  if (content !== undefined) parent.text += unescape(content);
  if (closing !== undefined && open.pop()?.name !== closing) throw new Error(`</${closing}> closes another element`);
  if (opening === undefined) return;
  const element: Element = { name: opening, attributes: attributesIn(attributes), children: [], text: '' };
  parent.children.push(element);
  if (empty === '') open.push(element);
}

function attributesIn(text: string): Record<string, string> {
  const pairs = [...text.matchAll(/([\w:-]+)="([^"]*)"/gu)].map(([, name = '', value = '']) => [name, unescape(value)]);
  if (new Set(pairs.map(([name]) => name)).size !== pairs.length) throw new Error(`an attribute twice: ${text}`);
  return Object.fromEntries(pairs) as Record<string, string>;
}

/** The element and all inside it, in the order of the text. */
export function everyElement(element: Element): Element[] {
  return [element, ...element.children.flatMap(everyElement)];
}

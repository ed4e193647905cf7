import { createRequire } from 'node:module';
import PdfDocument from 'pdfkit';
import { defineThreadTask } from '../../../platform/threads/thread.ts';
import type { Block, Paper, Sheet } from './sheet.ts';

// Points, 1/72 in.
const MARGIN = 36;
const CELL = 3;
const GAP = 10;
const SIZES = { title: 15, small: 8, heading: 11, text: 9 } as const;
/** Of a line to its font size. */
const LINE_GAP = 1;
/** Tables of more columns lie on their side. */
const MOST_UPRIGHT = 5;
const WIDEST_RULE = 0.8;

const resolve = createRequire(import.meta.url).resolve;
// Embedded as far as it is used: names are in Latin, Greek and Cyrillic letters, and none of a reader's fonts is relied on.
const FONTS = {
  plain: resolve('dejavu-fonts-ttf/ttf/DejaVuSansCondensed.ttf'),
  strong: resolve('dejavu-fonts-ttf/ttf/DejaVuSansCondensed-Bold.ttf'),
} as const;

type Font = keyof typeof FONTS;

/** Where the next thing stands, and what there is room for. */
interface Page {
  doc: PDFKit.PDFDocument;
  y: number;
  width: number;
  /** end of the room above the cautions */
  bottom: number;
}

const pageSize = (paper: Paper): string => (paper === 'a4' ? 'A4' : 'LETTER');

const write = ({ doc }: Page, font: Font, size: number): PDFKit.PDFDocument => doc.font(FONTS[font]).fontSize(size);

const heightOf = (
  page: Page,
  text: string,
  { font, size, width }: { font: Font; size: number; width: number },
): number => write(page, font, size).heightOfString(text, { width, lineGap: LINE_GAP });

/** Goes to a new page where there is less room than is needed. @returns whether it did */
function makeRoom(page: Page, height: number): boolean {
  if (page.y + height <= page.bottom || page.y === MARGIN) return false;
  page.doc.addPage();
  page.y = MARGIN;
  return true;
}

function writeText(page: Page, text: string, font: Font, size: number): void {
  const height = heightOf(page, text, { font, size, width: page.width });
  makeRoom(page, height);
  write(page, font, size).text(text, MARGIN, page.y, { width: page.width, lineGap: LINE_GAP });
  page.y += height + 2;
}

function rule(page: Page, weight: number): void {
  page.doc
    .lineWidth(weight)
    .moveTo(MARGIN, page.y)
    .lineTo(MARGIN + page.width, page.y)
    .stroke();
}

interface Row {
  cells: readonly string[];
  fonts: readonly Font[];
  widths: readonly number[];
}

function rowHeight(page: Page, { cells, fonts, widths }: Row): number {
  const heights = cells.map((text, at) =>
    heightOf(page, text, { font: fonts[at] ?? 'plain', size: SIZES.text, width: (widths[at] ?? 0) - 2 * CELL }),
  );
  // Nothing is higher than a page: a text that would be is cut with a sign.
  return Math.min(Math.max(SIZES.text, ...heights) + 2 * CELL, page.bottom - MARGIN - 2 * GAP);
}

function writeRow(page: Page, row: Row, height: number): void {
  let x = MARGIN;
  row.cells.forEach((text, at) => {
    const width = row.widths[at] ?? 0;
    const options = { width: width - 2 * CELL, height: height - CELL, lineGap: LINE_GAP, ellipsis: true };
    write(page, row.fonts[at] ?? 'plain', SIZES.text).text(text, x + CELL, page.y + CELL, options);
    x += width;
  });
  page.y += height;
  rule(page, 0.3);
}

function writeTable(page: Page, { columns, rows }: Block): void {
  const shares = columns.reduce((sum, { share }) => sum + share, 0);
  const widths = columns.map(({ share }) => (page.width * share) / shares);
  const head: Row = { cells: columns.map(({ heading }) => heading), fonts: columns.map(() => 'strong'), widths };
  const headHeight = rowHeight(page, head);
  const writeHead = () => {
    writeRow(page, head, headHeight);
    rule(page, WIDEST_RULE);
  };
  const [first] = rows;
  const fonts = columns.map(({ strong }): Font => (strong === true ? 'strong' : 'plain'));
  makeRoom(page, headHeight + (first === undefined ? 0 : rowHeight(page, { cells: first, fonts, widths })));
  writeHead();
  for (const cells of rows) {
    const row: Row = { cells, fonts, widths };
    const height = rowHeight(page, row);
    // What the columns are stands on every page.
    if (makeRoom(page, height)) writeHead();
    writeRow(page, row, height);
  }
}

function writeBlock(page: Page, block: Block): void {
  if (block.heading !== undefined) {
    page.y += GAP;
    makeRoom(page, 4 * SIZES.heading);
    writeText(page, block.heading, 'strong', SIZES.heading);
  }
  for (const line of block.lines) writeText(page, line, 'plain', SIZES.text);
  if (block.columns.length > 0) writeTable(page, block);
}

/** Cautions and number on every page, once it is known how many there are. */
function writeFeet(page: Page, { cautions, pageOf }: Sheet, top: number): void {
  const { doc, width } = page;
  const { start, count } = doc.bufferedPageRange();
  for (let at = 0; at < count; at += 1) {
    doc.switchToPage(start + at);
    page.y = top;
    rule(page, WIDEST_RULE);
    const number = pageOf.replace('{page}', String(at + 1)).replace('{pages}', String(count));
    const text = `${cautions.join(' ')} ${number}`;
    write(page, 'plain', SIZES.small).text(text, MARGIN, top + CELL, { width, lineGap: LINE_GAP });
  }
}

function draw(doc: PDFKit.PDFDocument, sheet: Sheet): void {
  const { width, height } = doc.page;
  const page: Page = { doc, y: MARGIN, width: width - 2 * MARGIN, bottom: height };
  const foot = `${sheet.cautions.join(' ')} ${sheet.pageOf}`;
  const footHeight = heightOf(page, foot, { font: 'plain', size: SIZES.small, width: page.width }) + 2 * CELL;
  const top = height - MARGIN - footHeight;
  page.bottom = top - CELL;
  writeText(page, sheet.title, 'strong', SIZES.title);
  writeText(page, `${sheet.about} · ${sheet.made}`, 'plain', SIZES.text);
  page.y += CELL;
  for (const block of sheet.blocks) writeBlock(page, block);
  writeFeet(page, sheet, top);
}

/** A sheet as a PDF on the paper asked for. */
export async function writePdf({ sheet, paper }: { sheet: Sheet; paper: Paper }): Promise<Uint8Array> {
  const isWide = sheet.blocks.some(({ columns }) => columns.length > MOST_UPRIGHT);
  const doc = new PdfDocument({
    size: pageSize(paper),
    layout: isWide ? 'landscape' : 'portrait',
    // Ours are kept by hand: the library would begin a page of its own wherever a text comes near its margin.
    margin: 0,
    bufferPages: true,
    lang: sheet.language,
    displayTitle: true,
    info: { Title: `${sheet.title}, ${sheet.about}`, CreationDate: new Date(sheet.madeAt), Producer: 'Gridworthy' },
  });
  const parts: Buffer[] = [];
  const ended = new Promise<void>((done, failed) => {
    doc.on('data', (part: Buffer) => parts.push(part));
    doc.on('end', done);
    doc.on('error', failed);
  });
  draw(doc, sheet);
  doc.end();
  await ended;
  return Buffer.concat(parts);
}

/** Lays a sheet out as a PDF: a large event takes a second or two, which must not be the server's. */
export const writePdfTask = defineThreadTask<{ sheet: Sheet; paper: Paper }, Uint8Array>({
  name: 'paper.write-pdf',
  processorMs: 20_000,
  clockMs: 60_000,
  run: writePdf,
});

import type { CellObject, WorkBook } from '@e965/xlsx';

/** A row as it stands in a file, with its number as a spreadsheet counts. */
export interface GridRow {
  row: number;
  cells: string[];
}

/** What a workbook may be once it is unpacked; a list of 2,000 cars needs a few. */
const MOST_UNPACKED_BYTES = 64 * 1024 * 1024;
const MOST_SHEETS = 50;

const END_OF_DIRECTORY = 0x06054b50;
const ENTRY = 0x02014b50;
const END_LENGTH = 22;
const ENTRY_LENGTH = 46;

/** Whether the bytes are a ZIP archive, as workbooks are (local file header, PKWARE APPNOTE 6.3.10, section 4.3.7). */
export const isWorkbook = (bytes: Buffer): boolean => bytes.length > END_LENGTH && bytes.readUInt32LE(0) === 0x04034b50;

/**
 * How large an archive says it is once unpacked, by its central directory (APPNOTE, sections 4.3.12 and 4.3.16); undefined
 * where there is none that can be read.
 */
function unpackedBytes(bytes: Buffer): number | undefined {
  const end = bytes.lastIndexOf(Buffer.from([0x50, 0x4b, 0x05, 0x06]));
  if (end === -1 || end + END_LENGTH > bytes.length || bytes.readUInt32LE(end) !== END_OF_DIRECTORY) return undefined;
  const count = bytes.readUInt16LE(end + 10);
  let at = bytes.readUInt32LE(end + 16);
  let sum = 0;
  for (let i = 0; i < count; i += 1) {
    if (at + ENTRY_LENGTH > bytes.length || bytes.readUInt32LE(at) !== ENTRY) return undefined;
    sum += bytes.readUInt32LE(at + 24);
    at += ENTRY_LENGTH + bytes.readUInt16LE(at + 28) + bytes.readUInt16LE(at + 30) + bytes.readUInt16LE(at + 32);
  }
  return sum;
}

/** What keeps a workbook from being read. */
export interface WorkbookFault {
  code: string;
  detail: string;
}

const UNREADABLE: WorkbookFault = {
  code: 'malformed-workbook',
  detail: 'This is no workbook that can be read. Save it as .xlsx without a password, or as CSV.',
};

export interface Workbook {
  sheets: string[];
  rowsOf(sheet: string): GridRow[];
}

/** Opens a workbook (.xlsx). Formulas are not computed: their last results are read. */
export async function openWorkbook(bytes: Buffer, mostRows: number): Promise<Workbook | WorkbookFault> {
  const size = unpackedBytes(bytes);
  if (size === undefined) return UNREADABLE;
  if (size > MOST_UNPACKED_BYTES) {
    return {
      code: 'workbook-too-large',
      detail: 'The workbook is too large once unpacked. Save the one sheet as CSV.',
    };
  }
  // Only threads that read a workbook load it.
  const { read, SSF } = await import('@e965/xlsx');
  let book: WorkBook;
  try {
    book = read(bytes, { type: 'buffer', dense: true, cellNF: true, cellHTML: false, sheetRows: mostRows });
  } catch {
    // Whatever it stumbled over, the person can only do one thing about it.
    return UNREADABLE;
  }
  const sheets = book.SheetNames.slice(0, MOST_SHEETS);
  if (sheets.length === 0) return UNREADABLE;
  return {
    sheets,
    rowsOf(sheet) {
      const data: readonly ((CellObject | undefined)[] | undefined)[] = book.Sheets[sheet]?.['!data'] ?? [];
      return Array.from(data, (cells, at) => ({
        row: at + 1,
        cells: Array.from(cells ?? [], (cell) => (cell === undefined ? '' : textOf(cell, SSF.is_date))),
      })).filter(({ cells }) => cells.some((cell) => cell.trim() !== ''));
    },
  };
}

/** Formats that only round or group a number; every other says how the number is to be read, as 007 under `000`. */
const PLAIN = /^(?:General|0|#|[#,]*0?\.?[0#]+|0\.0+E\+00)$/;

function textOf(cell: CellObject, isDate: (format: string) => boolean): string {
  const { t: type, v: value, w: shown } = cell;
  if (value === undefined || type === 'e' || type === 'z') return '';
  if (type === 'b') return value === true ? 'true' : 'false';
  if (type !== 'n') return String(value);
  const format = typeof cell.z === 'string' ? cell.z : 'General';
  const asShown = isDate(format) || /^0{2,}$/.test(format) || !PLAIN.test(format);
  return asShown ? (shown ?? String(value)).trim() : String(value);
}

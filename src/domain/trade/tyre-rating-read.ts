import { loadOfIndex, speedOfSymbol } from './tyre-rating-tables.ts';

/** A tyre's service description, taken apart. */
export interface TyreRating {
  /** first index: the one for single wheels */
  loadIndex: number;
  /** second index of `121/119`, for twin wheels */
  twinLoadIndex?: number;
  loadKg: number;
  symbol: string;
  /** km/h up to which the symbol speaks */
  symbolKmh: number;
  /** made for more than `symbolKmh`, and only the maker says how much: `ZR`, and brackets as in `(95Y)` */
  openEnded: boolean;
  extraLoad: boolean;
}

export type RatingFault = 'bad-form' | 'unknown-load-index' | 'unknown-speed-symbol';

const SERVICE_DESCRIPTION =
  /^(?<open>\()?\s*(?<load>\d{2,3})(?:\/(?<twin>\d{2,3}))?\s*(?<symbol>ZR|[A-Z])\s*(?<close>\))?(?<extra>\s*XL)?$/u;

/**
 * Reads `91W`, `91V XL`, `94ZR`, `(95Y)`, `121/119Q`. `ZR` without a letter is for more than 240 km/h; a description in
 * brackets is for more than its symbol. Never throws.
 *
 * @see UNECE R30 service description as explained by charts and a car handbook (secondary): brackets around index and Y
 *   are above 300 km/h and the maker is to be asked
 */
export function readTyreRating(text: string): TyreRating | RatingFault {
  const parts = SERVICE_DESCRIPTION.exec(text.trim().toUpperCase())?.groups;
  if (parts === undefined || (parts['open'] === undefined) !== (parts['close'] === undefined)) return 'bad-form';
  const { load = '', twin, symbol = '' } = parts;
  const loadKg = loadOfIndex(Number(load));
  if (loadKg === undefined || (twin !== undefined && loadOfIndex(Number(twin)) === undefined))
    return 'unknown-load-index';
  const symbolKmh = speedOfSymbol(symbol);
  if (symbolKmh === undefined) return 'unknown-speed-symbol';
  return {
    loadIndex: Number(load),
    ...(twin === undefined ? {} : { twinLoadIndex: Number(twin) }),
    loadKg,
    symbol,
    symbolKmh,
    openEnded: symbol === 'ZR' || parts['open'] !== undefined,
    extraLoad: parts['extra'] !== undefined,
  };
}

import { describe, expect, it } from 'vitest';
import { PRINTED_FORMS } from '../../../../src/domain/catalogue/item.ts';
import { readPrinted } from '../../../../src/domain/declaration/read-answer.ts';

describe('what is copied from a label', () => {
  // 49 CFR 574.5: "DOT" and 13 symbols, of which the last four are week and year; before July 2000 the last three
  it.each([
    ['2324', '2324'],
    ['DOT 2324', '2324'],
    ['dot2324', '2324'],
    ['DOT 4B9K 1X2Y 2324', '2324'],
    ['DOT 1XY 4B9K1AB 2324', '2324'],
    ['(2324)', '2324'],
    ['23/24', '2324'],
    ['23 24', '2324'],
    ['DOT XY 439', '439'],
    ['439', '439'],
    ['no idea', 'no idea'],
  ])('date code %s: %s', (typed, kept) => {
    expect(readPrinted('tyre-date-code', typed)).toBe(kept);
  });

  // service description of UNECE R30: load index and speed symbol, in brackets for more than the symbol
  it.each([
    ['91w', '91W'],
    ['91 W', '91W'],
    ['205/55 R16 91w', '91W'],
    ['225/45ZR17 (94Y)', '(94Y)'],
    ['94y xl', '94Y XL'],
    ['94Y Extra Load', '94Y XL'],
    ['121/119q', '121/119Q'],
    ['94ZR', '94ZR'],
    ['95Y/XL', '95Y XL'],
    ['91-W', '91W'],
    ['91H M+S', '91H'],
    ['205/55R16 94V XL M+S 3PMSF', '94V XL'],
    ['104/102R', '104/102R'],
    ['100/100', '100/100'],
    ['fast', 'fast'],
  ])('load index and speed symbol %s: %s', (typed, kept) => {
    expect(readPrinted('tyre-rating', typed)).toBe(kept);
  });

  // grades of SAE J300
  it.each([
    ['15W50', '15W-50'],
    ['20w50', '20W-50'],
    ['5w-40', '5W-40'],
    ['sae 10W 40', '10W-40'],
    ['0W/30', '0W-30'],
    ['SAE 50', '50'],
    ['50', '50'],
    ['10w', '10W'],
    ['10W60 fully synthetic', '10W-60'],
    ['0W-40 C3', '0W-40'],
    ['SAE 15W40 diesel', '15W-40'],
    ['SAE 40 mineral', '40'],
    ['75W90', '75W-90'],
    ['10W-40 or 5W-30', '10W-40 or 5W-30'],
    ['about 40', 'about 40'],
    ['good oil', 'good oil'],
  ])('oil grade %s: %s', (typed, kept) => {
    expect(readPrinted('oil-grade', typed)).toBe(kept);
  });

  it('stays the same when it is read again', () => {
    for (const form of PRINTED_FORMS) {
      for (const typed of [
        'DOT 2324',
        '94y xl',
        '94V/XL M+S',
        '(95y)',
        'sae 15w50',
        'SAE 15W40 diesel',
        '10W-40 or 5W-30',
        '23/24',
        'x',
      ]) {
        const once = readPrinted(form, typed);
        expect(readPrinted(form, once)).toBe(once);
      }
    }
  });

  it('takes nothing from any other text than the space around it', () => {
    expect(readPrinted(undefined, ' DOT 2324 ')).toBe('DOT 2324');
  });
});

import { expect, test } from 'vitest';
import { tokenIn } from '../../../src/web/shared/session.ts';

test.each([
  ['a minted one', 'gw_AbC-_0123456789abcdefghij', 'gw_AbC-_0123456789abcdefghij'],
  ['a configured one', 'an-organizer-token-of-the-club', 'an-organizer-token-of-the-club'],
  [
    'one with signs, encoded as links are',
    encodeURIComponent('club/token:"+%41&=#x?1234'),
    'club/token:"+%41&=#x?1234',
  ],
  ['one that was put in by hand', 'club/token:+&=!100%$?1234', 'club/token:+&=!100%$?1234'],
  ['nothing', '', undefined],
  ['what is too short to be one', 'overview', undefined],
  ['what has spaces', 'this is%20no token of anybody', undefined],
])('the address holds %s', (_what, fragment, token) => {
  expect(tokenIn(fragment)).toBe(token);
});

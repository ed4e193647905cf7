import { isIP } from 'node:net';

/** Names that the HTTP layer knows for address ranges of its own network. */
const PROXY_NAMES = new Set(['loopback', 'linklocal', 'uniquelocal']);

/** Whether a text is an address of one of these protocols (`https:`), with a path where one is needed. */
export function isUrl(text: string, protocols: readonly string[], needsPath: boolean): boolean {
  if (!URL.canParse(text)) return false;
  const parsed = new URL(text);
  return protocols.includes(parsed.protocol) && parsed.host !== '' && (!needsPath || parsed.pathname.length > 1);
}

/** Whether an address has no name, password, query or fragment; what is no address at all is judged elsewhere. */
export function isBareAddress(text: string | undefined): boolean {
  if (text === undefined || !URL.canParse(text)) return true;
  const { username, password, search, hash } = new URL(text);
  return username + password + search + hash === '';
}

/** Whether a text is an IP address, a range of them (`10.0.0.0/8`), or a name that the HTTP layer has for one. */
export function isAddressRange(text: string): boolean {
  if (PROXY_NAMES.has(text)) return true;
  const [address = '', bits, ...rest] = text.split('/');
  const version = isIP(address);
  if (version === 0 || rest.length > 0) return false;
  return bits === undefined || (/^\d{1,3}$/.test(bits) && Number(bits) <= (version === 4 ? 32 : 128));
}

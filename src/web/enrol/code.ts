const CODE = /^#([\w-]{10,100})$/;

/** The one-time code in the address, which a browser sends to nobody; it is taken out of the address at once. */
export function takeCodeFromAddress(): string | undefined {
  const code = CODE.exec(location.hash)?.[1];
  if (location.hash !== '') history.replaceState(null, '', location.pathname + location.search);
  return code;
}

// Changes one text in one module of the built server while it is loaded. Loaded by the three files beside it.
let change;

export function initialize(data) {
  change = data;
}

export async function load(url, context, nextLoad) {
  const loaded = await nextLoad(url, context);
  if (!url.endsWith(`/src/${change.file}`)) return loaded;
  const source = String(loaded.source);
  // A server that is not broken must not pass for one: a test that looks for the fault would then prove nothing.
  if (!source.includes(change.find)) throw new Error(`${change.file} does not contain: ${change.find}`);
  return { ...loaded, source: source.replace(change.find, change.replace) };
}

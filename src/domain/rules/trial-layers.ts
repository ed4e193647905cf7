import { resolveRules, type RuleLayer } from './resolve.ts';
import type { RuleFault } from './rule-fault.ts';
import type { RuleSet } from './rule-set.ts';

/** A change of a venue or a run group that the rules tried cannot take; `pointer` leads into its overlay. */
export interface NotApplied {
  from: RuleLayer['from'];
  pointer: string;
  code: RuleFault['code'];
  detail: string;
}

/** The rules tried as they would judge one run group. */
export interface FittedRules {
  ruleSet: RuleSet;
  notApplied: readonly NotApplied[];
}

/** A layer without what was taken out; `ruleAt` are the places that its rules had. */
interface Fitting extends RuleLayer {
  ruleAt: readonly number[];
}

/** The smallest part of an overlay that can be left out: one parameter, one effect or one rule. */
interface Part {
  section: string;
  name: string;
}

function partOf(pointer: string): Part {
  const [, section = '', name = ''] = pointer.split('/');
  return { section, name };
}

const without = <T>(record: Readonly<Record<string, T>>, names: ReadonlySet<string>): Record<string, T> =>
  Object.fromEntries(Object.entries(record).filter(([name]) => !names.has(name)));

/** Leaves parts out. A fault that names no part is of the whole layer. */
function leaveOut({ from, overlay, ruleAt }: Fitting, parts: readonly Part[]): Fitting {
  const of = (section: string) => new Set(parts.filter((part) => part.section === section).map(({ name }) => name));
  const [parameters, effects, rules] = [of('parameters'), of('effects'), of('rules')];
  const found = parameters.size + effects.size + rules.size;
  if (parts.length > 0 && found === 0) return { from, overlay: { parameters: {}, effects: {}, rules: [] }, ruleAt: [] };
  const kept = overlay.rules.map((_, at) => at).filter((at) => !rules.has(String(at)));
  return {
    from,
    overlay: {
      parameters: without(overlay.parameters, parameters),
      effects: without(overlay.effects, effects),
      rules: overlay.rules.filter((_, at) => kept.includes(at)),
    },
    ruleAt: kept.map((at) => ruleAt[at] ?? at),
  };
}

/** A pointer into the layer as it was given, whatever was left out of it meanwhile. */
function originalPointer({ ruleAt }: Fitting, pointer: string): string {
  const { section, name } = partOf(pointer);
  if (section !== 'rules' || name === '') return pointer;
  return pointer.replace(/^\/rules\/\d+/u, `/rules/${ruleAt[Number(name)] ?? name}`);
}

/**
 * Puts what a venue and a run group change over the rules tried, as far as these can take it. What they cannot take (a
 * parameter they do not have, a unit that does not convert, a floor that would be loosened) is left out and reported.
 *
 * @param layers in order; later ones win
 */
export function fitLayers(base: RuleSet, layers: readonly RuleLayer[]): FittedRules {
  const notApplied: NotApplied[] = [];
  let fitting: Fitting[] = layers.map((layer) => ({ ...layer, ruleAt: layer.overlay.rules.map((_, at) => at) }));
  // Each round leaves at least one part out, or everything, so the rounds end.
  for (;;) {
    const resolved = resolveRules(base, fitting);
    if (resolved.ok) return { ruleSet: resolved.ruleSet, notApplied };
    const { faults } = resolved;
    const size = sizeOf(fitting);
    if (size === 0) return { ruleSet: { ...base, examples: [] }, notApplied };
    fitting = fitting.map((layer) => {
      const own = faults.filter((fault) => fault.from === layer.from);
      for (const { from, pointer, code, detail } of own) {
        notApplied.push({ from, pointer: originalPointer(layer, pointer), code, detail });
      }
      return leaveOut(
        layer,
        own.map((fault) => partOf(fault.pointer)),
      );
    });
    if (sizeOf(fitting) === size) fitting = [];
  }
}

const sizeOf = (layers: readonly Fitting[]): number =>
  layers.reduce(
    (sum, { overlay }) =>
      sum + Object.keys(overlay.parameters).length + Object.keys(overlay.effects).length + overlay.rules.length,
    0,
  );

/**
 * Whether a car may go out on a wet track by its tyres, as it was decided when it was declared or looked at. Depths in mm.
 * Where nothing is known of a groove there is no such fact, and the car does not go out while the track is wet.
 */
export type WetTyres =
  | { fit: true }
  | { fit: false; why: 'slicks' }
  | { fit: false; why: 'grooves'; lowestMm: number; limitMm: number };

/** The track became wet or dry for a run group. */
export interface WetStep {
  at: Date;
  wet: boolean;
}

/** Whether the track was wet at an instant; it is dry until somebody says otherwise. */
export const wetAt = (steps: readonly WetStep[], at: Date): boolean =>
  steps.findLast((step) => step.at <= at)?.wet ?? false;

/** Why a car stays in on a wet track, in one sentence for the marshal; undefined when its tyres are fit for it. */
export function wetTyresReason(wet: WetTyres | undefined): string | undefined {
  if (wet === undefined) return 'Wet track: tread not known: have it measured.';
  if (wet.fit) return undefined;
  if (wet.why === 'slicks') return 'Wet track: slicks on the car.';
  return `Wet track: the lowest groove is ${wet.lowestMm} mm, and ${wet.limitMm} mm are needed.`;
}

import type { Basis } from './rules/model/finding.ts';
import { messageIn } from './rules/says/rule-words.ts';

interface Caution {
  /** shown wherever the task is asked for */
  text: string;
  basis: Basis;
}

const COMMON: Basis = { kind: 'common-practice' };
const published = (source: string): Basis => ({ kind: 'published', source });

/**
 * What can hurt somebody while they check a car, by the id that catalogue items name. `general` belongs on every
 * verdict, form and printed sheet.
 */
export const CAUTIONS = {
  general: {
    text: 'A passed inspection never guarantees a safe car. The entrant remains responsible for the car at all times. The rules of the venue and organizer, and the judgement of a licensed practitioner, prevail over this list.',
    basis: COMMON,
  },
  'radiator-cap': {
    text: 'Never open a radiator or expansion-tank cap while the system is hot: with the pressure gone, coolant above its normal boiling point flashes to steam and sprays out. Wait until it is cold to the hand.',
    basis: published('Service manuals, cooling system section'),
  },
  'brake-dust': {
    text: 'Keep brake dust out of the air: wet it down, or work inside a filtered vacuum enclosure. Do not blow it off with compressed air in the open and do not brush it dry.',
    basis: published('29 CFR 1910.1001 appendix F'),
  },
  'brake-fluid': {
    text: 'Use only the stated fluid from a sealed container and clean the cap before opening it. Brake fluid strips paint and can burn where it meets hot parts; wipe spills at once.',
    basis: published('49 CFR 571.105 S5.4.3 for the reservoir label; spill and fire from service literature'),
  },
  lifting: {
    text: 'Never go under a car that is held by a jack alone. Set it on stands, on firm and level ground, and check that it does not rock before you reach underneath.',
    basis: {
      kind: 'common-practice',
      note: 'State inspection rules warn against going under an unsupported vehicle; the wording on stands is practice.',
    },
  },
  'wheel-fasteners': {
    text: 'Bring wheel fasteners to their torque with a torque wrench, as the last step; do not finish with an impact gun and do not oil the threads. Check the torque again after the first session.',
    basis: published('Service manuals, wheels section; check after first use from 50 to 100 miles on the road'),
  },
  'hot-parts': {
    text: 'Brakes, wheels, exhaust, engine oil and gearbox fluid burn after a session. Let them cool, or wear gloves made for it.',
    basis: COMMON,
  },
  harness: {
    text: 'A strap that is cut, frayed or bleached, or that has held somebody in a crash, is finished whatever its label says.',
    basis: COMMON,
  },
  helmet: {
    text: 'Retire a helmet after any hard knock: the damage does not show from outside.',
    basis: { kind: 'common-practice', note: 'Advice of helmet foundations, from memory.' },
  },
  battery: {
    text: 'A lead battery gives off hydrogen. Protect your eyes, keep sparks away, and take the negative lead off first.',
    basis: COMMON,
  },
  'high-voltage': {
    text: 'Do not touch orange cables or anything they lead to. Only a trained person isolates the system at its service disconnect, waits the time the maker gives and proves that it is dead, with gloves rated for the voltage.',
    basis: {
      kind: 'common-practice',
      note: 'The orange colour is in draft rules of the UNECE R100 family; the rest is from memory.',
    },
  },
  fuel: {
    text: 'No smoking and nothing that sparks near open fuel; keep an extinguisher within reach.',
    basis: COMMON,
  },
  'noise-meter': {
    text: 'Measure clear of walls and other cars. A reading taken close to the tailpipe cannot be converted to another distance.',
    basis: COMMON,
  },
  'corner-scales': {
    text: 'Set the scale pads level with each other to 3 mm (1/8 in) and weigh the car as it runs: driver, fuel and fluids on board.',
    basis: published('Short-track set-up literature'),
  },
} as const satisfies Readonly<Record<string, Caution>>;

export type CautionId = keyof typeof CAUTIONS;

/** The caution that stands on every verdict, form, sign-off, gate answer and sheet. */
export const GENERAL_CAUTION: string = CAUTIONS.general.text;

/** What a task can do to somebody, in a language; English where there is no text. */
export const cautionIn = (id: CautionId, language: string): string => messageIn(CAUTIONS[id].text, language);

import type { JSX } from 'preact';
import { words } from '../shared/text.ts';

/** The computation that helps with a question of the catalogue: by the item, else by what its name begins with. */
const BY_ITEM: Readonly<Record<string, string>> = {
  'pad.thickness': 'last-safe-session',
  'pad.temperature-range': 'brake-margin',
  'rotor.': 'rotor-check',
  'brake-fluid.class': 'fluid-class',
  'brake-fluid.': 'brake-margin',
  'tyre.date-code': 'tyre-age',
  'tyre.rating': 'tyre-rating',
  'tyre.axle-marking': 'tyre-rating',
  'tyre.cold-pressure': 'tyre-pressure',
  'tyre.hot-pressure': 'tyre-pressure',
  'wheel.torque': 'fastener-torque',
  'wheel.stud-engagement': 'fastener-torque',
  'wheel-play.': 'play-diagnosis',
  'steering.free-play': 'steering-play',
  'oil.grade': 'engine-oil-grade',
  'oil.level.': 'oil-level',
  'oil.changed-on': 'service-due',
  'coolant.changed-on': 'service-due',
  'coolant.': 'coolant',
  'gearbox-fluid.changed-on': 'service-due',
  'differential-fluid.changed-on': 'service-due',
  'damper.serviced-on': 'service-due',
  'extinguisher.serviced-on': 'service-due',
  'helmet.': 'label-validity',
  'harness.standard': 'label-validity',
  'harness.label-date': 'label-validity',
  'seat.made-on': 'label-validity',
  'fuel-cell.made-on': 'label-validity',
  'exhaust.sound-level': 'sound-level',
  'rollover.clearance': 'roll-clearance',
  'setup.corner-weights': 'corner-weights',
  'setup.alignment': 'alignment-compare',
  'hv.isolation': 'hv-isolation',
  'debrief.symptoms': 'symptom-triage',
};

/** The computation about a question; undefined where there is none. */
export function calculationFor(items: readonly string[]): string | undefined {
  for (const item of items) {
    const exact = BY_ITEM[item];
    if (exact !== undefined) return exact;
    const start = Object.keys(BY_ITEM).find((key) => key.endsWith('.') && item.startsWith(key));
    if (start !== undefined) return BY_ITEM[start];
  }
  return undefined;
}

interface Props {
  from: 'garage' | 'line' | 'office' | 'shop' | 'car';
  /** catalogue items of a finding or a point; none: the list of all computations */
  items?: readonly string[];
  /** the entry, where the access is for more than one */
  entryId?: string | undefined;
  /** what it is about, for whoever hears it */
  about?: string;
}

/** The way from a number that matters to the page that works it out; nothing where no computation is about it. */
export function WorkItOut({ from, items, entryId, about }: Props): JSX.Element | null {
  const name = items === undefined ? undefined : calculationFor(items);
  if (items !== undefined && name === undefined) return null;
  const query = new URLSearchParams({
    from,
    ...(name !== undefined && { do: name }),
    ...(entryId !== undefined && { entry: entryId }),
  });
  // At the line a car is half looked at: its page stays open.
  const isBeside = from === 'line' || from === 'office';
  return (
    <a
      class="button no-print"
      href={`/workshop?${query.toString()}`}
      {...(isBeside ? { target: '_blank', rel: 'noopener' } : {})}
    >
      {words.t(name === undefined ? 'work-out.all' : 'work-out')}
      {about !== undefined && <span class="unseen"> {about}</span>}
    </a>
  );
}

import type { Instant } from '../calendar.ts';
import { stopSymptoms, type SymptomName } from './session-log.ts';

/** An entry of the log, as far as it says how a session went. */
export interface OutingEntry {
  /** of a car that two drivers share, each counts his own sessions */
  entryId: string;
  /** as the driver calls it; null: not said */
  session: string | null;
  at: Instant;
  laps?: number | null | undefined;
  bestLapSeconds?: number | null | undefined;
  /** values of catalogue items, by cell */
  cells?: Readonly<Record<string, unknown>> | null | undefined;
  symptoms?: readonly SymptomName[] | null | undefined;
  note?: string | null | undefined;
  writtenName: string;
}

/** What is kept of a session as a baseline. */
export interface Outing {
  session: string;
  /** of its last entry */
  at: Instant;
  laps?: number;
  bestLapSeconds?: number;
  /** pressures and torque, by cell; what was written last counts */
  cells: Readonly<Record<string, unknown>>;
  notes: readonly { text: string; by: string }[];
}

const KEPT = /^(?:tyre\.(?:hot|cold)-pressure|wheel\.torque(?:-setting)?)(?:@|$)/u;

function outingOf(session: string, log: readonly OutingEntry[]): Outing {
  const sorted = log.toSorted((a, b) => a.at.localeCompare(b.at));
  const laps = sorted.flatMap((one) => one.laps ?? []).at(-1);
  const times = sorted.flatMap((one) => one.bestLapSeconds ?? []);
  const cells = Object.entries(Object.assign({}, ...sorted.map((one) => one.cells ?? {})) as Record<string, unknown>);
  return {
    session,
    at: sorted.at(-1)?.at ?? '',
    ...(laps !== undefined && { laps }),
    ...(times.length > 0 && { bestLapSeconds: Math.min(...times) }),
    cells: Object.fromEntries(cells.filter(([cell]) => KEPT.test(cell))),
    notes: sorted.flatMap(({ note, writtenName: by }) =>
      note === undefined || note === null ? [] : [{ text: note, by }],
    ),
  };
}

/**
 * The session of an event whose set-up is worth beginning with: the one with the quickest lap; where no lap was timed, the
 * last one with tyre pressures. One in which something was felt that stops the car is none. Common practice, no source.
 *
 * @returns undefined where no session says enough
 */
export function bestOuting(log: readonly OutingEntry[]): Outing | undefined {
  const sessions = new Map<string, OutingEntry[]>();
  for (const one of log) {
    if (one.session === null) continue;
    const key = `${one.entryId} ${one.session}`;
    sessions.set(key, [...(sessions.get(key) ?? []), one]);
  }
  const outings = [...sessions.values()]
    .filter((own) => own.every(({ symptoms }) => stopSymptoms(symptoms ?? []).length === 0))
    .map((own) => outingOf(own[0]?.session ?? '', own));
  const timed = outings.filter(({ bestLapSeconds }) => bestLapSeconds !== undefined);
  if (timed.length > 0) return timed.toSorted((a, b) => (a.bestLapSeconds ?? 0) - (b.bestLapSeconds ?? 0))[0];
  return outings
    .filter(({ cells }) => Object.keys(cells).some((cell) => cell.startsWith('tyre.')))
    .toSorted((a, b) => b.at.localeCompare(a.at))[0];
}

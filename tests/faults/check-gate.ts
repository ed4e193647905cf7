import type { Violation } from './violation.ts';
import type { Change } from './check-writes.ts';
import type { Lookup, Recorded, Span } from './history.ts';
import { canBe, type Era, erasOf } from './model.ts';
import { gateCheckText, type Truth } from './truth.ts';

// The log of lookups is the one thing that a crash of the database may cost half a second of.
const LOG_LOSS_MS = 1500;

/** Compares every answer of the gate with the states that the car can have been in while the question was open. */
export function checkGate(
  recorded: Recorded,
  changes: ReadonlyMap<string, readonly Change[]>,
  truth: Truth,
): { violations: Violation[]; harmful: number } {
  const violations: Violation[] = [];
  const erasByEntry = new Map<string, Era[]>();
  for (const [entryId, ofEntry] of changes) {
    const { eras, impossibleAt } = erasOf(ofEntry);
    erasByEntry.set(entryId, eras);
    if (impossibleAt === undefined) continue;
    const what = `${entryId}: ${ofEntry[impossibleAt]?.kind} stands where it cannot have happened`;
    violations.push({ promise: 'history agrees with the order in time', what });
  }
  const wrong = recorded.lookups.filter(
    (lookup) => !canBe(erasByEntry.get(lookup.entryId) ?? erasOf([]).eras, lookup.admit, lookup),
  );
  for (const { carNumber, admit, status, from } of wrong) {
    const promise = admit ? 'gate never admits against the history' : 'gate never refuses against the history';
    violations.push({ promise, what: `car ${carNumber} was ${status} at ${Math.round(from)} ms` });
  }
  return {
    violations: [...violations, ...checkLog(recorded, truth)],
    harmful: wrong.filter(({ admit }) => admit).length,
  };
}

/** No "yes" without a row that says so, except for what a crash of the database may take. */
function checkLog({ lookups, crashes }: Recorded, truth: Truth): Violation[] {
  const left = new Map(truth.gateChecks);
  const missing = lookups.filter(({ carNumber, asOf, admit }) => {
    const text = gateCheckText(carNumber, asOf, admit);
    const count = left.get(text) ?? 0;
    left.set(text, count - 1);
    return count <= 0;
  });
  const unexplained = missing.filter((lookup) => !crashes.some((crash) => mayHaveTaken(crash, lookup)));
  return unexplained.map(({ carNumber, asOf }) => ({
    promise: 'gate answer is in the log',
    what: `car ${carNumber}, answered at ${asOf}`,
  }));
}

const mayHaveTaken = (crash: Span, lookup: Lookup) => lookup.to >= crash.from - LOG_LOSS_MS && lookup.from <= crash.to;

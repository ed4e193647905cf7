import { ApiProblem, Unreachable } from '../../api/call.ts';
import { type LiftPoint, openPointsIn } from '../../shared/holds/lift.tsx';
import { words } from '../../shared/words.ts';

/** One fault that the server named. `latestEnd` stands beside an end that is too late. */
export interface Fault {
  pointer: string;
  code: string;
  detail: string;
  latestEnd?: string;
}

/** Why something did not work, in words for the screen. */
export interface Trouble {
  message: string;
  /** of the answer; undefined without one */
  status: number | undefined;
  /** of what was refused, with 412 */
  etag: string | undefined;
  faults: readonly Fault[];
  /** points that were not looked at, where it is about them */
  open: readonly LiftPoint[];
}

export function troubleOf(error: unknown): Trouble {
  if (error instanceof ApiProblem) {
    const { status, etag, problem } = error;
    const message = status === 401 ? words.t('session.refused') : problem.detail;
    return { message, status, etag, faults: problem.errors ?? [], open: openPointsIn(problem) };
  }
  const message =
    error instanceof Unreachable ? words.t('network.none') : words.t('problem.unexpected', { detail: String(error) });
  return { message, status: undefined, etag: undefined, faults: [], open: [] };
}

/** What is wrong with the value at a place, and with what is inside it. */
export function faultsAt(trouble: Trouble | undefined, pointer: string): readonly Fault[] {
  const within = `${pointer}/`;
  return (trouble?.faults ?? []).filter((fault) => fault.pointer === pointer || fault.pointer.startsWith(within));
}

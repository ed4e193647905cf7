import { unpackLists } from '../../records/judging/signed-lists.ts';
import type { AuditLists, AuditRow } from './audit-store.ts';
import type { AuditFault } from './verify.ts';

/** Holds what decisions of the line keep against the digests in the history. */
export interface DecisionWalk {
  next(row: AuditRow): void;
  hold(kept: AuditLists): AuditFault[];
  /** after the last: rows that name a decision which is not there */
  end(): AuditFault[];
}

interface Named {
  sha256: string;
  entryId: string;
  seq: number;
}

/** What the row of a decision says of the lists that it rests on; rows from before they were kept say nothing. */
function namedBy({ entryId, seq, data }: AuditRow): (Named & { signOffId: string }) | undefined {
  // written by the sign-off only
  const { event, lists } = data as { event?: { signOffId?: string }; lists?: { sha256: string } };
  const signOffId = event?.signOffId;
  if (entryId === null || signOffId === undefined || lists === undefined) return undefined;
  return { signOffId, sha256: lists.sha256, entryId, seq };
}

const digestOf = (lists: Uint8Array): string | undefined => {
  try {
    return unpackLists(lists).listsSha256;
  } catch {
    // what does not unpack is not what was packed
    return undefined;
  }
};

export function walkDecisions(carOf: ReadonlyMap<string, string>): DecisionWalk {
  const named = new Map<string, Named>();
  const fault = ({ entryId, seq }: Pick<Named, 'entryId'> & { seq?: number }, detail: string): AuditFault => {
    const carNumber = carOf.get(entryId);
    return {
      kind: 'lists-differ',
      entryId,
      ...(carNumber === undefined ? {} : { carNumber }),
      ...(seq === undefined ? {} : { seq }),
      detail,
    };
  };
  return {
    next(row) {
      if (row.action !== 'entry.signed-off') return;
      const by = namedBy(row);
      if (by !== undefined) named.set(by.signOffId, by);
    },
    hold({ signOffId, entryId, lists, listsSha256 }) {
      const by = named.get(signOffId);
      named.delete(signOffId);
      if (by === undefined) {
        return lists === null ? [] : [fault({ entryId }, 'A decision keeps lists of findings that no row names.')];
      }
      if (lists !== null && by.sha256 === listsSha256 && digestOf(lists) === by.sha256) return [];
      return [fault(by, `The findings that the decision of row ${by.seq} rests on are not those it was made with.`)];
    },
    end: () => [...named.values()].map((by) => fault(by, `The decision of row ${by.seq} is gone.`)),
  };
}

import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { type Cell, listMissing, parseAnswers } from '../../domain/declaration.ts';
import { viewFindings } from '../../http/finding-view.ts';
import type { NewInspection, StoredInspection } from '../../records/inspections.ts';
import type { InspectionView } from './schemas.ts';

type Ticket = { ticketId: string; place: number };

/** What callers read of a submitted revision. `ticket` is its place on the line now. */
export function viewInspection(inspection: StoredInspection, ticket: Ticket | undefined): InspectionView {
  const parsed = parseAnswers(inspection.answers);
  const missing = parsed.ok ? listMissing(parsed.answers, inspection.vehicle, 'entrant') : [];
  return viewJudged(inspection, missing, ticket);
}

/** The same of one whose missing answers are known. */
export function viewJudged(
  inspection: Omit<NewInspection, 'vehicle' | 'context' | 'by' | 'at'> & { carNumber: string; submittedAt: Date },
  missing: readonly Cell[],
  ticket: Ticket | undefined,
): InspectionView {
  return {
    inspectionId: inspection.inspectionId,
    entryId: inspection.entryId,
    carNumber: inspection.carNumber,
    revision: inspection.revision,
    ruleSetId: inspection.ruleSetId,
    ruleSetVersion: inspection.ruleSetVersion,
    rulesHash: inspection.resolvedHash,
    cause: inspection.cause,
    parameters: inspection.parameters,
    verdict: inspection.verdict,
    findings: viewFindings(inspection.findings),
    missing: [...missing],
    answers: inspection.answers,
    ticket: ticket ?? null,
    submittedAt: inspection.submittedAt.toISOString(),
    caution: GENERAL_CAUTION,
  };
}

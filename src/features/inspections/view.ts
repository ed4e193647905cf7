import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { listMissing, parseAnswers } from '../../domain/declaration.ts';
import { viewFindings } from '../../http/finding-view.ts';
import type { StoredInspection } from '../../records/inspections.ts';
import type { InspectionView } from './schemas.ts';

/** What callers read of a submitted revision. `ticket` is its place on the line now. */
export function viewInspection(
  inspection: StoredInspection,
  ticket: { ticketId: string; place: number } | undefined,
): InspectionView {
  const parsed = parseAnswers(inspection.answers);
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
    missing: parsed.ok ? listMissing(parsed.answers, inspection.vehicle, 'entrant') : [],
    answers: inspection.answers,
    ticket: ticket ?? null,
    submittedAt: inspection.submittedAt.toISOString(),
    caution: GENERAL_CAUTION,
  };
}

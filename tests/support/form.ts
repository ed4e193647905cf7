import type { FormView as OwnForm, QuestionsView } from '../../src/web/api/operations.ts';
import { type FormView, joinForm } from '../../src/web/garage/kept/form.ts';
import type { TestApp } from './app.ts';
import type { TestEntry } from './event.ts';

/** The form of an entry with both its parts, as the page brings them together. */
export async function wholeForm(t: TestApp, entry: TestEntry): Promise<FormView> {
  const api = t.api(entry.entrant);
  const own: OwnForm = (await api.get(`/v1/entries/${entry.entryId}/form`).expect(200)).body;
  const questions: QuestionsView = (await api.get(own.questions.address).expect(200)).body;
  return joinForm(own, questions);
}

/** A revision with all that was found, also what is met. */
export async function wholeRevision(t: TestApp, { inspectionId }: { inspectionId: string }) {
  return (await t.api('organizer').get(`/v1/inspections/${inspectionId}?findings=all`).expect(200)).body;
}

import { expect } from 'vitest';
import { trialJob } from '../../src/features/rules/trials/trial.job.ts';
import type { TestApp } from './app.ts';
import { createTestEntry, GOOD_ANSWERS, SMALL_RULE_SET, submit, type TestEntry, type TestEvent } from './event.ts';
import { runOrdered } from './jobs.ts';

const PADS = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];

/** Good answers but for the thinnest pad, front left inside, in mm. */
export const answersWith = (thinnest: number, more: object = {}) => ({
  ...GOOD_ANSWERS,
  'pad.thickness': Object.fromEntries(PADS.map((position, at) => [position, at === 0 ? thinnest : 8])),
  ...more,
});

/** The small rules with changes. */
export function rulesWith(change: (rules: typeof SMALL_RULE_SET) => void): typeof SMALL_RULE_SET {
  const rules = structuredClone(SMALL_RULE_SET);
  change(rules);
  return rules;
}

/** Pads of 5 mm everywhere: the groups say 4 and 6 mm themselves, so the rule asks for what they cannot change. */
export const FIVE_PADS = rulesWith((rules) => {
  Object.assign(rules.rules[0]?.test ?? {}, { atLeast: { value: 5, unit: 'mm' } });
  Object.assign(rules.parameters, { padMinimum: undefined });
});

/** What trials of one event's rule set need; `current` is asked each time, because each test has its own event. */
export function trialsOf(current: () => { t: TestApp; event: TestEvent }) {
  const organizer = () => current().t.api('organizer');
  const path = (ruleSetId = current().event.ruleSetId) => `/v1/rule-sets/${ruleSetId}`;
  const start = (body: object = {}, ruleSetId?: string) =>
    organizer()
      .post(`${path(ruleSetId)}/trial`)
      .send({ eventIds: [current().event.eventId], ...body });
  const read = async (trialId: string) => (await organizer().get(`/v1/trials/${trialId}`).expect(200)).body;
  return {
    /** replaces the draft */
    draft: (document: unknown) =>
      organizer().put(path()).set('if-match', '*').send({ name: 'Draft', document }).expect(200),
    start,
    read,
    /** orders a trial, lets the worker run it, and reads it */
    async tryOut(body: object = {}) {
      const answer = await start(body);
      expect(answer.status).toBe(202);
      await runOrdered(current().t, answer, trialJob);
      return read(answer.body.trialId);
    },
    /** an entry that has declared */
    async enter(thinnest: number, options: { runGroupId?: string; more?: object } = {}): Promise<TestEntry> {
      const { t, event } = current();
      const { runGroupId = event.novice, more } = options;
      const entry = await createTestEntry(t, event, { runGroupId });
      expect((await submit(t, entry, answersWith(thinnest, more))).status).toBe(201);
      return entry;
    },
  };
}

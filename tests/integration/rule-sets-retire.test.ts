import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { DRAFT_EXAMPLE } from '../../src/features/rules/rule-set-schemas.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;

const retirements = (ruleSetId: string, version: number): Promise<number> =>
  t.deps.db.prisma.ruleSetRetirement.count({ where: { ruleSetId, version } });

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

async function publishOne(): Promise<string> {
  const { ruleSetId } = (await t.api('organizer').post('/v1/rule-sets').send(DRAFT_EXAMPLE)).body;
  await t.api('organizer').post(`/v1/rule-sets/${ruleSetId}/publish`).set('if-match', '"1"').send({ changelog: 'x' });
  return ruleSetId as string;
}
const retire = (id: string, version: number | string = 1, body: object = { reason: 'Too low a limit' }) =>
  t.api('organizer').post(`/v1/rule-sets/${id}/versions/${version}/retire`).send(body);

describe('retiring a version', () => {
  test('is shown wherever the version is', async () => {
    const id = await publishOne();
    const before = await t.api('marshal').get(`/v1/rule-sets/${id}/versions/1`);
    expect(before.body).not.toHaveProperty('retired');
    expect(await retirements(id, 1)).toBe(0);
    const answer = await retire(id);
    expect(answer.status).toBe(200);
    const retired = { at: TEST_NOW, by: 'Test organizer', reason: 'Too low a limit' };
    expect(answer.body).toEqual({ ...before.body, retired });
    expect((await t.api('marshal').get(`/v1/rule-sets/${id}/versions/1`)).body).toEqual(answer.body);
    expect((await t.api('marshal').get(`/v1/rule-sets/${id}/versions`)).body.versions[0].retired).toEqual(retired);
    expect(await retirements(id, 1)).toBe(1);
    expect(await retirements(id, 2)).toBe(0);
  });

  test('happens once, also when many do it at once', async () => {
    const id = await publishOne();
    const answers = await Promise.all(Array.from({ length: 8 }, (_, at) => retire(id, 1, { reason: `reason ${at}` })));
    const won = answers.filter(({ status }) => status === 200);
    expect(won.length).toBe(1);
    const lost = answers.filter(({ status }) => status !== 200);
    for (const { status, body } of lost) {
      expect(status).toBe(409);
      expect(body).toMatchObject({ code: 'already-retired', retired: won[0]?.body.retired });
    }
  });

  test('leaves the draft, which can be published anew', async () => {
    const id = await publishOne();
    await retire(id);
    const again = await t
      .api('organizer')
      .post(`/v1/rule-sets/${id}/publish`)
      .set('if-match', '"1"')
      .send({ changelog: 'x' });
    expect(again.body.code).toBe('already-published');
    const changed = { ...DRAFT_EXAMPLE, document: { ...DRAFT_EXAMPLE.document, description: 'Other' } };
    await t.api('organizer').put(`/v1/rule-sets/${id}`).set('if-match', '"1"').send(changed);
    const next = await t
      .api('organizer')
      .post(`/v1/rule-sets/${id}/publish`)
      .set('if-match', '"2"')
      .send({ changelog: 'x' });
    expect(next.body.version).toBe(2);
  });

  test('cannot be undone: the database refuses', async () => {
    const id = await publishOne();
    await retire(id);
    const undo = t.deps.db.pool.query('DELETE FROM rule_set_retirements WHERE rule_set_id = $1', [id]);
    await expect(undo).rejects.toThrow(/append-only/);
  });

  test('needs a reason, a version that exists, and an organizer', async () => {
    const id = await publishOne();
    expect((await retire(id, 1, {})).status).toBe(400);
    expect((await retire(id, 1, { reason: ' ' })).status).toBe(400);
    expect((await retire(id, 1, { reason: 'x', force: true })).status).toBe(400);
    expect((await retire(id, 2)).status).toBe(404);
    expect((await retire(UNKNOWN)).status).toBe(404);
    for (const role of ['chief', 'inspector', 'marshal'] as const) {
      const refused = await t.api(role).post(`/v1/rule-sets/${id}/versions/1/retire`).send({ reason: 'x' });
      expect(refused.status).toBe(403);
    }
    expect(await retirements(id, 1)).toBe(0);
  });
});

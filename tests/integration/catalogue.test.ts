import { afterAll, beforeAll, expect, test } from 'vitest';
import { CAR_FACT_ITEMS } from '../../src/domain/car/fact-table.ts';
import { CATALOGUE } from '../../src/domain/catalogue/catalogue.ts';
import { answerIn } from '../../src/domain/catalogue/texts.ts';
import { startTestApp, type TestApp } from '../support/app.ts';

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

interface ItemView {
  key: string;
  area: string;
  positionScheme?: string;
  positions?: string[];
  cautions: string[];
  answer: { kind: string; unit?: string; fields?: Record<string, unknown> };
}

/** What only the line answers about the car itself comes last. */
const SHOWN = [...CATALOGUE, ...CAR_FACT_ITEMS];

test('shows every item with its answer type unchanged, and names for its options', async () => {
  const { status, body } = await t.api('marshal').get('/v1/catalogue');
  expect(status).toBe(200);
  expect(body.items.map((item: ItemView) => item.key)).toEqual(SHOWN.map((item) => item.key));
  const shown = body.items.map((item: ItemView) => item.answer);
  expect(shown).toEqual(SHOWN.map((item) => answerIn(item, 'en')));
  expect(shown).toMatchObject(SHOWN.map((item) => item.answer));
  expect(body.items.map((item: { appliesWhen?: object }) => item.appliesWhen ?? null)).toEqual(
    SHOWN.map((item) => item.appliesWhen ?? null),
  );
});

test('spells positions, units and cautions out', async () => {
  const { body } = await t.api('inspector').get('/v1/catalogue');
  const items = new Map<string, ItemView>(body.items.map((item: ItemView) => [item.key, item]));
  const pad = items.get('pad.thickness');
  expect(pad?.positionScheme).toBe('wheel-side');
  expect(pad?.positions).toEqual(['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out']);
  expect(body.positionSchemes['wheel']).toEqual(['FL', 'FR', 'RL', 'RR']);
  expect(body.units.pressure).toEqual(['kPa', 'bar', 'psi', 'MPa']);
  const known = Object.values(body.units).flat();
  for (const item of items.values()) {
    expect(body.areas).toContain(item.area);
    if (item.answer.unit !== undefined) expect(known).toContain(item.answer.unit);
    // Ids such as `radiator-cap` are ours; people get sentences.
    for (const caution of item.cautions) expect(caution).toMatch(/ .*\.$/);
  }
  expect(body.caution).toMatch(/never guarantees a safe car/);
});

test('speaks the language that is asked for, and English to whoever asks for one it does not speak', async () => {
  const pedal = async (accepted: string) => {
    const { body, headers } = await t.api('marshal').get('/v1/catalogue').set('accept-language', accepted);
    const { answer } = body.items.find(({ key }: ItemView) => key === 'brake.pedal') as ItemView & {
      answer: { names: Record<string, string> };
    };
    return [headers['content-language'], answer.names['sinks'], headers['etag']];
  };
  const [, , german] = await pedal('de');
  expect(await pedal('fr;q=0.9, de-AT;q=0.8, en;q=0.1')).toEqual(['de', 'Sinkt ab', german]);
  const english = await pedal('nl, *;q=0.1');
  expect(english.slice(0, 2)).toEqual(['en', 'Sinks']);
  expect(english[2]).not.toBe(german);
});

test('saves the transfer for whoever has the current copy', async () => {
  const first = await t.api('marshal').get('/v1/catalogue');
  const etag = first.headers['etag'] ?? '';
  expect(etag).toMatch(/^"\d+\.[0-9a-f]{12}"$/);
  expect(first.headers['cache-control']).toBe('private, no-cache');
  for (const known of [etag, `W/${etag}`, `"other", ${etag}`, '*']) {
    const again = await t.api('marshal').get('/v1/catalogue').set('if-none-match', known);
    expect(again.status).toBe(304);
    expect(again.headers['etag']).toBe(etag);
    expect(again.text).toBe('');
  }
  expect((await t.api('marshal').get('/v1/catalogue').set('if-none-match', '"other"')).status).toBe(200);
});

test('needs some token', async () => {
  expect((await t.api(undefined).get('/v1/catalogue')).status).toBe(401);
});

import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET, PROFILES } from '../../../seed/built-in.ts';
import { DEMO_ENTRIES, demoVehicle } from '../../../seed/demo-data.ts';
import { WALK_CAR } from '../../../seed/demo/entries-novice.ts';
import { walkCommands, walkEnvironment } from '../../../seed/walk.ts';
import { alwaysLook, notLookedAt } from '../../../src/domain/line/line-judgement.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';

const environment = walkEnvironment({
  baseUrl: 'http://127.0.0.1:8080/',
  eventId: 'event-1',
  walkEntryId: 'entry-1',
  barredEntryId: 'entry-2',
  tokens: { entrant: 'gw_e', inspector: 'gw_i', marshal: 'gw_m' },
  once: { submitKey: 'key-1', signKey: 'key-2', sticker: 'D12345' },
});

describe('the walk', () => {
  it('has its variables as shell assignments', () => {
    const lines = environment.trimEnd().split('\n');
    expect(lines).toContain('BASE=http://127.0.0.1:8080/v1');
    expect(lines.every((line) => /^[A-Z_]+=[A-Za-z0-9_./:-]+$/.test(line))).toBe(true);
  });

  it('uses only variables that are set, and all of them', () => {
    const set = environment
      .trimEnd()
      .split('\n')
      .map((line) => line.split('=')[0]);
    const used = new Set([...walkCommands().matchAll(/\$([A-Z_]+)/g)].map((match) => match[1]));
    expect(used).toEqual(new Set([...set, 'CLAIM']));
  });

  it('is the same text each time, without ids or tokens in it', () => {
    expect(walkCommands()).toBe(walkCommands());
    expect(walkCommands()).not.toMatch(/gw_|[0-9a-f]{8}-[0-9a-f]{4}/);
  });

  it('looks at everything that the line looks at on every car of that group', () => {
    const body = /<<END \|\n([\s\S]+?)\nEND/.exec(walkCommands())?.[1] ?? '';
    const { checks } = JSON.parse(body.replaceAll(/\$[A-Z_]+/g, 'x')) as {
      checks: { item: string; position?: string }[];
    };
    const entry = DEMO_ENTRIES.find(({ number }) => number === WALK_CAR);
    if (entry === undefined) throw new Error('the walk is about a car of the demo');
    const vehicle = demoVehicle(entry);
    const parameters = PROFILES[entry.group.toLowerCase() as keyof typeof PROFILES];
    const points = alwaysLook({ ruleSet: RuleSet.parse(BUILT_IN_RULE_SET), parameters }, vehicle);
    expect(points.length).toBeGreaterThan(4);
    expect(notLookedAt(points, checks, vehicle)).toEqual([]);
  });
});

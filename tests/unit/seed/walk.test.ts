import { describe, expect, it } from 'vitest';
import { walkCommands, walkEnvironment } from '../../../seed/walk.ts';

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
});

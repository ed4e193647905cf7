import { describe, expect, it } from 'vitest';
import { createLogger } from '../../../src/platform/logger.ts';
import { logLines } from '../../support/log.ts';

const SECRET = 'hidden-value';

describe('logger', () => {
  it.each([
    { authorization: SECRET },
    { req: { headers: { authorization: SECRET, cookie: SECRET } } },
    { headers: { 'set-cookie': SECRET } },
    { token: SECRET },
    { body: { token: SECRET } },
    { config: { organizerToken: SECRET } },
    { entrant: { email: SECRET, phone: SECRET } },
    { entry: { entrant: { email: SECRET, phone: SECRET } } },
    { database: { password: SECRET } },
  ])('removes secrets and personal data: %j', (fields) => {
    const { log, lines } = logLines();
    log.info(fields, 'something happened');
    expect(lines).toHaveLength(1);
    expect(JSON.stringify(lines)).not.toContain(SECRET);
    expect(JSON.stringify(lines)).toContain('[redacted]');
  });

  it('writes of an error what describes it, and nothing that hangs on it', () => {
    const { log, lines } = logLines();
    const error = Object.assign(new Error('no luck', { cause: new Error('deeper') }), { code: 'E7', detail: SECRET });
    log.warn({ error }, 'failed');
    expect(lines[0]?.['error']).toMatchObject({
      type: 'Error',
      message: 'no luck',
      code: 'E7',
      cause: { message: 'deeper' },
    });
    expect(JSON.stringify(lines)).not.toContain(SECRET);
  });

  it('writes nothing below its level', () => {
    const { log, lines } = logLines('warn');
    log.info('not this');
    log.warn('but this');
    expect(lines.map((line) => line.msg)).toEqual(['but this']);
  });

  it('gives levels by name and instants in UTC', () => {
    const { log, lines } = logLines();
    log.info('now');
    expect(lines[0]).toMatchObject({ level: 'info' });
    expect(String(lines[0]?.['time'])).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/);
    expect(() => createLogger({ level: 'loud' })).toThrow();
  });
});

import { DriverAdapterError } from '@prisma/driver-adapter-utils';
import { expect, test } from 'vitest';
import { isDatabaseDown } from '../../src/platform/database/db.ts';

const coded = (code: string, message: string) => Object.assign(new Error(message), { code });

// Each of these came out of a fault run as a 500 before it was known: the server had not failed, its database had.
test.each([
  ['the disk of the database is full', coded('53100', 'could not extend file')],
  ['the same through Prisma', { code: 'P2039', meta: { driverAdapterError: { cause: { originalCode: '53100' } } } }],
  ['the server ended the connection', coded('P2010', 'Code: `N/A`. Message: `Server has closed the connection.`')],
  ['the driver lost it in a transaction', new DriverAdapterError({ kind: 'ConnectionClosed' })],
  ['a connection that says nothing', new DriverAdapterError({ kind: 'SocketTimeout' })],
])('%s: the database is down', (_, error) => {
  expect(isDatabaseDown(error)).toBe(true);
});

test('a mistake of ours is not', () => {
  expect(isDatabaseDown(coded('42601', 'syntax error'))).toBe(false);
  expect(isDatabaseDown(new DriverAdapterError({ kind: 'NullConstraintViolation' }))).toBe(false);
});

import { z } from 'zod';

export const Alive = z.object({ status: z.literal('ok').describe('The process answers') }).meta({ id: 'Alive' });

export const Ready = z
  .object({
    status: z.literal('ready').describe('The server can do its work'),
    database: z.literal('ok').describe('The database answers and its tables are those of this version'),
  })
  .meta({ id: 'Ready' });

import { z } from 'zod';

export const Alive = z.object({ status: z.literal('ok').describe('The process answers') }).meta({ id: 'Alive' });

export const Ready = z
  .object({
    status: z.literal('ready').describe('The server can do its work'),
    database: z.literal('ok').describe('The database answers and its tables are those of this version'),
    clock: z
      .object({
        differenceMs: z.int().describe('How far the clock of this machine is ahead of the database, milliseconds'),
      })
      .optional()
      .describe('The clock of the database decides; set the machine right when they differ by more than 2 seconds'),
  })
  .meta({ id: 'Ready' });

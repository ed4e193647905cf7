import {
  erlangC,
  fewestForWait,
  type Line,
  loadOf,
  meanWaiting,
  meanWaitMinutes,
  waitExceeds,
} from '../../src/domain/trade/line/line-staffing-erlang.ts';
import type { PublishedCheck } from './published-check.ts';

const TABLE =
  'An Introduction to Quantitative Methods for Decision Making (1977), table 12.2, page 512, as quoted in a solutions handbook for a calculator (secondary)';
const TELLERS =
  'the same handbook, queuing example 1: three tellers, 1.2 arrivals and 0.5 services a minute (secondary)';
const PROBLEM = (id: string): string =>
  `operations research problem book (1982), problem ${id}, as quoted on a technical university’s page (secondary)`;
const CALLS = 'staffing example of 100 calls of 180 s in half an hour, public repository (secondary)';

const TELLER_LINE: Line = { arrivalsPerHour: 72, serviceMinutes: 2, inspectors: 3 };
/** 300 arrivals a year, two days each, three servers */
const YEARLY: Line = { arrivalsPerHour: 300 / 8760, serviceMinutes: 2880, inspectors: 3 };
const MINUTES_PER_DAY = 1440;
const MINUTES_PER_YEAR = 525_600;
const SINGLE_24: Line = { arrivalsPerHour: 24, serviceMinutes: 2, inspectors: 1 };
const SINGLE_30: Line = { arrivalsPerHour: 30, serviceMinutes: 1.5, inspectors: 1 };
const SINGLE_60: Line = { arrivalsPerHour: 60, serviceMinutes: 0.75, inspectors: 1 };
const CALL_LINE = { arrivalsPerHour: 200, serviceMinutes: 3 };
const within = (inspectors: number): number => 100 * (1 - waitExceeds({ ...CALL_LINE, inspectors }, 20 / 60));

export const CHECKS: readonly PublishedCheck[] = [
  {
    name: 'Erlang C table: wait in service times, 3 servers at 0.8',
    published: 1.079,
    tolerance: 0.0005,
    source: TABLE,
    ours: () => meanWaitMinutes({ ...TELLER_LINE, serviceMinutes: 1, arrivalsPerHour: 144 }),
  },
  {
    name: 'Erlang C tellers: wait in queue',
    published: 2.16,
    tolerance: 0.005,
    unit: 'min',
    source: TELLERS,
    ours: () => meanWaitMinutes(TELLER_LINE),
  },
  {
    name: 'Erlang C tellers: time in system',
    published: 4.16,
    tolerance: 0.005,
    unit: 'min',
    source: TELLERS,
    ours: () => meanWaitMinutes(TELLER_LINE) + TELLER_LINE.serviceMinutes,
  },
  {
    name: 'Erlang C tellers: customers in queue',
    published: 2.59,
    tolerance: 0.005,
    source: TELLERS,
    ours: () => meanWaiting(TELLER_LINE),
  },
  {
    name: 'Erlang C tellers: customers in system',
    published: 4.99,
    tolerance: 0.005,
    source: TELLERS,
    ours: () => meanWaiting(TELLER_LINE) + loadOf(TELLER_LINE),
  },
  {
    name: 'Erlang C three servers: in queue',
    published: 0.352,
    tolerance: 0.0005,
    source: PROBLEM('24.6'),
    ours: () => meanWaiting(YEARLY),
  },
  {
    name: 'Erlang C three servers: in system',
    published: 1.996,
    tolerance: 0.0005,
    source: PROBLEM('24.6'),
    ours: () => meanWaiting(YEARLY) + loadOf(YEARLY),
  },
  {
    name: 'Erlang C three servers: wait in years',
    published: 0.001175,
    tolerance: 0.0000005,
    unit: 'year',
    source: PROBLEM('24.6'),
    ours: () => meanWaitMinutes(YEARLY) / MINUTES_PER_YEAR,
  },
  {
    name: 'Erlang C three servers: time in system in days',
    published: 2.429,
    tolerance: 0.0005,
    unit: 'day',
    source: PROBLEM('24.6'),
    ours: () => (meanWaitMinutes(YEARLY) + YEARLY.serviceMinutes) / MINUTES_PER_DAY,
  },
  {
    name: 'Erlang C one server, 24 and 30 an hour: in system',
    published: 4,
    tolerance: 1e-9,
    source: PROBLEM('23.3'),
    ours: () => meanWaiting(SINGLE_24) + loadOf(SINGLE_24),
  },
  {
    name: 'Erlang C one server, 24 and 30 an hour: time in system',
    published: 10,
    tolerance: 1e-9,
    unit: 'min',
    source: PROBLEM('23.3'),
    ours: () => meanWaitMinutes(SINGLE_24) + SINGLE_24.serviceMinutes,
  },
  {
    name: 'Erlang C one server, 30 an hour, 1.5 min: in queue',
    published: 2.25,
    tolerance: 1e-9,
    source: PROBLEM('23.14'),
    ours: () => meanWaiting(SINGLE_30),
  },
  {
    name: 'Erlang C one server, 30 an hour, 1.5 min: wait',
    published: 4.5,
    tolerance: 1e-9,
    unit: 'min',
    source: PROBLEM('23.14'),
    ours: () => meanWaitMinutes(SINGLE_30),
  },
  {
    name: 'Erlang C one server, 1 a minute, 45 s: wait',
    published: 2.25,
    tolerance: 1e-9,
    unit: 'min',
    source: PROBLEM('23.16'),
    ours: () => meanWaitMinutes(SINGLE_60),
  },
  {
    name: 'Erlang C 10 erlang, 13 agents: answered within 20 s',
    published: 79.56,
    tolerance: 0.005,
    unit: '%',
    source: CALLS,
    ours: () => within(13),
  },
  {
    name: 'Erlang C 10 erlang, 14 agents: answered within 20 s',
    published: 88.835,
    tolerance: 0.01,
    unit: '%',
    source: CALLS,
    ours: () => within(14),
  },
  {
    name: 'Erlang C 10 erlang: agents for 80 % within 20 s',
    published: 14,
    source: CALLS,
    ours: () => fewestForWait(CALL_LINE, 20 / 60, 0.2),
  },
  {
    name: 'Erlang C 2 servers, 1 erlang',
    published: 1 / 3,
    tolerance: 1e-15,
    source: 'arithmetic: (1/2·2)/(1 + 1 + 1/2·2)',
    ours: () => erlangC(2, 1),
  },
];

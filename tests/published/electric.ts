import {
  isolationFromReadings,
  isolationLimit,
  isolationNeeded,
  ohmPerVolt,
} from '../../src/domain/trade/safety/hv-isolation.ts';
import type { PublishedCheck } from './published-check.ts';

const LIMITS = 'UNECE Regulation 100, 5.1.3.1, read in a copy of the regulation';
const CONNECTED = 'UNECE Regulation 100, 5.1.3.2, read in a copy of the regulation';

/** Isolation of high-voltage systems. */
export const CHECKS: readonly PublishedCheck[] = [
  {
    name: 'isolation limit, direct current',
    published: 100,
    unit: 'Ω/V',
    ours: () => isolationLimit('dc'),
    source: LIMITS,
  },
  {
    name: 'isolation limit, alternating current',
    published: 500,
    unit: 'Ω/V',
    ours: () => isolationLimit('ac'),
    source: LIMITS,
  },
  {
    name: 'isolation limit, connected',
    published: 500,
    unit: 'Ω/V',
    ours: () => isolationLimit('connected'),
    source: CONNECTED,
  },
  {
    name: 'isolation limit, connected, alternating current doubly insulated',
    published: 100,
    unit: 'Ω/V',
    ours: () => isolationLimit('connected', true),
    source: CONNECTED,
  },
  {
    name: 'W37 400 V DC, 20 kΩ',
    published: 50,
    unit: 'Ω/V',
    ours: () => ohmPerVolt(20_000, 400),
    source: 'arithmetic from UNECE Regulation 100',
  },
  {
    name: 'W37 400 V DC, 20 kΩ: verdict',
    published: 'fail',
    ours: () => (ohmPerVolt(20_000, 400) >= isolationLimit('dc') ? 'pass' : 'fail'),
    source: `${LIMITS}: at least 100 Ω/V`,
  },
  {
    name: '400 V DC bus: resistance needed',
    published: 40_000,
    unit: 'Ω',
    ours: () => isolationNeeded(400, 'dc'),
    source: 'arithmetic from UNECE Regulation 100',
  },
  {
    name: '400 V connected to AC: resistance needed',
    published: 200_000,
    unit: 'Ω',
    ours: () => isolationNeeded(400, 'connected'),
    source: 'arithmetic from UNECE Regulation 100',
  },
  {
    name: 'two-step measurement: Ro 40 kΩ, Ub 400 V, U1 200 V, U1′ 160 V',
    published: 20_000,
    tolerance: 1e-6,
    unit: 'Ω',
    ours: () =>
      isolationFromReadings({
        knownResistorOhm: 40_000,
        busVoltageV: 400,
        poleVoltageV: 200,
        poleVoltageWithResistorV: 160,
      }),
    source: 'UNECE Regulation 100, annex 5A, formula read; arithmetic',
  },
];

import { BRAKE_HEAT } from '../../src/domain/trade/brakes/brake-heat.ts';
import type { BrakeHeatInput } from '../../src/domain/trade/brakes/brake-heat-input.ts';
import { steelSpecificHeat } from '../../src/domain/trade/brakes/brake-heat-material.ts';
import {
  type BrakeHeatSession,
  type BrakeHeatSettings,
  solveBrakeHeat,
  solveConverged,
} from '../../src/domain/trade/brakes/brake-heat-session.ts';
import { resolveBrakeHeat } from '../../src/domain/trade/brakes/brake-heat-settings.ts';

export interface BrakeHeatBench {
  laps: number;
  /** of each rotor over the session, ours and the loop's */
  steps: number;
  /** one request without HTTP: converged session, sensitivities, steps, rounding; medians, ms */
  requestMs: number;
  /** CPU time of the same, mean: what it takes where nobody else wants the processor */
  requestCpuMs: number;
  /** following both rotors once */
  sessionMs: number;
  /** the same number of steps of a plain Euler loop */
  eulerMs: number;
  /** highest front temperature by the session and by the loop, °C */
  peakC: { session: number; euler: number };
}

const GRAVITY = 9.80665;
const KELVIN = 273.15;
const STEFAN_BOLTZMANN = 5.670374419e-8;

const BODY = {
  ...(BRAKE_HEAT.example as object),
  brakingZones: [
    { fromKmh: 212, toKmh: 74 },
    { fromKmh: 176, toKmh: 98 },
    { fromKmh: 188, toKmh: 112 },
    { fromKmh: 150, toKmh: 60 },
    { fromKmh: 205, toKmh: 120 },
    { fromKmh: 165, toKmh: 85 },
    { fromKmh: 140, toKmh: 90 },
    { fromKmh: 190, toKmh: 70 },
  ],
  lapLengthM: 4600,
  laps: 20,
};

/** One rotor by hand: the same power, cooling and specific heat, one Euler step after another. Its peak, °C. */
function eulerPeak(settings: BrakeHeatSettings, session: BrakeHeatSession, axle: 'front' | 'rear'): number {
  const { massKg, decelerationG, airDensityKgM3, dragAreaM2, rollingCoefficient, convection, ambientC } = settings;
  const rotor = settings[axle];
  const share = ((axle === 'front' ? session.frontShare : 1 - session.frontShare) / 2) * rotor.rotorShare;
  const { stretches } = session.lap;
  let tC = settings.startC;
  let peakC = tC;
  for (let lap = 0; lap < session.laps; lap++) {
    for (let i = 0; i < stretches.length; i++) {
      const { braking, fromMs, toMs, durationS } = stretches[i] ?? { braking: false, fromMs: 0, toMs: 0, durationS: 0 };
      const count = (session.stretchStart[i + 1] ?? session.stepsPerLap) - (session.stretchStart[i] ?? 0);
      const dt = durationS / count;
      for (let step = 0; step < count; step++) {
        const v = fromMs + ((toMs - fromMs) * (step + 0.5)) / count;
        const held = (airDensityKgM3 * dragAreaM2 * v * v) / 2 + rollingCoefficient * massKg * GRAVITY;
        const power = braking ? (massKg * decelerationG * GRAVITY - held) * v * share : 0;
        const h = convection.still + convection.factor * v ** convection.exponent;
        const radiation = (tC + KELVIN) ** 4 - (ambientC + KELVIN) ** 4;
        const lost =
          h * rotor.areaM2 * (tC - ambientC) + rotor.emissivity * STEFAN_BOLTZMANN * rotor.radiatingAreaM2 * radiation;
        tC += ((power - lost) * dt) / (rotor.massKg * steelSpecificHeat(tC));
        if (tC > peakC) peakC = tC;
      }
    }
  }
  return peakC;
}

const ROUNDS = 61;
const WARM_UP = 15;

function timed(run: () => unknown): number {
  const started = performance.now();
  run();
  return performance.now() - started;
}

const median = (values: readonly number[]): number => values.toSorted((a, b) => a - b)[values.length >> 1] ?? 0;

/** A session of 20 laps with 8 braking zones, in turns with a plain Euler loop of as many steps, in one process. */
export function benchBrakeHeat(): BrakeHeatBench {
  const input: BrakeHeatInput = BRAKE_HEAT.input.parse(BODY);
  const { settings } = resolveBrakeHeat(input);
  const { session, limits } = solveConverged(settings);
  const sides = {
    request: () => BRAKE_HEAT.compute(input),
    session: () => solveBrakeHeat(settings, limits),
    euler: () => [eulerPeak(settings, session, 'front'), eulerPeak(settings, session, 'rear')],
  };
  const times: Record<keyof typeof sides, number[]> = { request: [], session: [], euler: [] };
  let requestCpuMs = 0;
  for (let round = 0; round < ROUNDS + WARM_UP; round++) {
    for (const side of ['request', 'session', 'euler'] as const) {
      const before = process.cpuUsage();
      const ms = timed(sides[side]);
      const { user, system } = process.cpuUsage(before);
      if (round < WARM_UP) continue;
      times[side].push(ms);
      if (side === 'request') requestCpuMs += (user + system) / 1000 / ROUNDS;
    }
  }
  const euler = eulerPeak(settings, session, 'front');
  // a loop that follows another rotor would be no baseline
  if (Math.abs(euler - session.front.peakC) > 15) throw new Error(`peaks differ: ${session.front.peakC} and ${euler}`);
  return {
    laps: session.laps,
    steps: session.stepsPerLap * session.laps,
    requestMs: median(times.request),
    requestCpuMs,
    sessionMs: median(times.session),
    eulerMs: median(times.euler),
    peakC: { session: session.front.peakC, euler },
  };
}

import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { Vehicle } from '../../src/domain/vehicle.ts';
import type { ExampleCase, Setting } from './example-case.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;
type CarFacts = Partial<Vehicle>;

const one = (shows: string, result: Result | 'absent', setting: Setting = {}): ExampleCase => ({
  shows,
  result,
  ...setting,
});
const wheels = (value: unknown, FL: unknown = value) => ({
  ...Object.fromEntries(POSITION_KEYS.wheel.map((wheel) => [wheel, value])),
  FL,
});
const flag = (name: string, value: boolean): Setting => ({ parameters: { [name]: { value } } });

const freePlay = (play: number, wheelDiameter: number, steering?: Vehicle['steering']): Setting => ({
  ...(steering !== undefined && { vehicle: { steering } }),
  answers: { 'steering.free-play': { play, wheelDiameter } },
});
const LOOK_AT_HALF: Setting = { parameters: { steeringPlayLookShare: { value: 0.5 } } };

/** UK MOT 2.2: 13 mm at 380 mm with a rack. 49 CFR 570.7(a), table 1, in mm as judged: tenths for play, whole mm for the wheel */
const STEERING: Cases = {
  'steering-free-play-rack': [
    one('25 mm at 380 mm', 'met', freePlay(25, 380, 'rack')),
    one('25.1 mm at 380 mm', 'not-met', freePlay(25.1, 380, 'rack')),
    one('50 mm at 360 mm', 'not-met', freePlay(50, 360, 'rack')),
    one('24 mm at 360 mm is 25.3 mm at 380 mm', 'not-met', freePlay(24, 360, 'rack')),
    one('a kind that is not on record is judged as a rack', 'not-met', freePlay(30, 360)),
    one('a box is judged by another rule', 'absent', freePlay(60, 380, 'box')),
    one('not answered', 'unanswerable', { vehicle: { steering: 'rack' } }),
  ],
  'steering-free-play-rack-look': [
    one('13 mm at 380 mm', 'met', freePlay(13, 380, 'rack')),
    one('13.1 mm at 380 mm', 'not-met', freePlay(13.1, 380)),
    one('12 mm at 350 mm', 'met', freePlay(12, 350)),
    one('a box is judged by another rule', 'absent', freePlay(20, 380, 'box')),
  ],
  'steering-free-play': [
    one('16 in: 2 in', 'met', freePlay(50.8, 406, 'box')),
    one('16 in: more than 2 in', 'not-met', freePlay(50.9, 406, 'box')),
    one('18 in: 2 1/4 in', 'met', freePlay(57.2, 457, 'box')),
    one('18 in: more than 2 1/4 in', 'not-met', freePlay(57.3, 457, 'other')),
    one('just below 20 in: 2 1/4 in', 'met', freePlay(57.2, 507, 'box')),
    one('just below 20 in: more than 2 1/4 in', 'not-met', freePlay(57.3, 507, 'box')),
    one('20 in: 2 1/2 in', 'met', freePlay(63.5, 508, 'box')),
    one('20 in: more than 2 1/2 in', 'not-met', freePlay(63.6, 508, 'box')),
    one('22 in: 2 3/4 in', 'met', freePlay(69.9, 559, 'box')),
    one('22 in: more than 2 3/4 in', 'not-met', freePlay(70, 559, 'box')),
    one('a rack is judged by another rule', 'absent', freePlay(100, 380, 'rack')),
    one('not answered', 'unanswerable', { vehicle: { steering: 'box' } }),
  ],
  'steering-free-play-look': [
    one('half of 2 in, in a group that looks from half', 'met', { ...freePlay(25.4, 380, 'box'), ...LOOK_AT_HALF }),
    one('more than half of 2 in', 'not-met', { ...freePlay(25.5, 380, 'box'), ...LOOK_AT_HALF }),
    one('2 in, in another group', 'met', freePlay(50.8, 380, 'box')),
    one('more than 2 in, in another group', 'not-met', freePlay(50.9, 380, 'box')),
    one('a rack is judged by another rule', 'absent', freePlay(26, 380)),
  ],
};

const TAPER: CarFacts = { hubBearing: { front: 'taper', rear: 'sealed' }, hubEndFloatMaximumMm: { front: 0.1 } };
const NO_LIMIT: CarFacts = { hubBearing: { front: 'taper' } };
/** play at FL in one or both ways, with a measured end float */
const play = (nineThree: string, twelveSix: string, endFloat?: number, vehicle: CarFacts = TAPER): Setting => ({
  vehicle,
  answers: {
    'wheel-play.nine-three': wheels({ felt: 'none' }, { felt: nineThree }),
    'wheel-play.twelve-six': wheels({ felt: 'none' }, { felt: twelveSix, ...(endFloat !== undefined && { endFloat }) }),
  },
});

const PLAY: Cases = {
  'wheel-play-nine-three': [
    one('none felt', 'met', play('none', 'none', undefined, {})),
    one('felt', 'not-met', play('felt', 'none', undefined, {})),
    one('felt both ways, taper bearing in order', 'met', play('felt', 'felt', 0.05)),
    one('felt sideways only, taper bearing in order: it is the linkage', 'not-met', play('felt', 'none', 0.05)),
    one('felt both ways, too much end float', 'not-met', play('felt', 'felt', 0.12)),
    one('not checked', 'unanswerable'),
  ],
  'wheel-play-twelve-six': [
    one('none felt', 'met', play('none', 'none', undefined, {})),
    one('felt', 'not-met', play('none', 'felt', undefined, {})),
    one('felt, taper bearing with 0.1 of 0.1 mm', 'met', play('none', 'felt', 0.1)),
    one('felt, taper bearing with 0.101 of 0.1 mm', 'not-met', play('none', 'felt', 0.101)),
    one('felt, taper bearing not measured', 'not-met', play('none', 'felt')),
    one('felt, 0.2 mm without a limit on record', 'met', play('none', 'felt', 0.2, NO_LIMIT)),
    one('felt, 0.201 mm without a limit on record', 'not-met', play('none', 'felt', 0.201, NO_LIMIT)),
    one('none felt, and more end float than the handbook allows', 'not-met', play('none', 'none', 0.101)),
    one('none felt, end float in order', 'met', play('none', 'none', 0.1)),
    one('felt, measured on a bearing without end float', 'not-met', {
      ...play('none', 'felt', 0.05, { hubBearing: { front: 'sealed' } }),
    }),
    one('not checked', 'unanswerable'),
  ],
  'wheel-play-taper-linkage': [
    { ...one('play from top to bottom only', 'met', play('none', 'felt', 0.05)), at: { FL: 'met', FR: 'absent' } },
    one('play both ways', 'not-met', play('felt', 'felt', 0.05)),
    one('no taper bearing', 'absent', play('felt', 'felt', undefined, {})),
  ],
  'hub-end-float-limit': [
    one('the handbook’s limit is on record', 'met', play('none', 'felt', 0.05)),
    one('no limit on record', 'not-met', play('none', 'felt', 0.05, NO_LIMIT)),
    one('no limit on record, more than any car has', 'met', play('none', 'felt', 0.21, NO_LIMIT)),
    one('not measured', 'absent', play('none', 'felt')),
  ],
};

const torque = (FL: number | null, vehicle: CarFacts = { wheelNutTorqueNm: 110 }, more: Setting = {}): Setting => ({
  vehicle,
  ...more,
  answers: { 'wheel.torque': wheels(vehicle.wheelNutTorqueNm ?? 110, FL) },
});
const setTo = (value: number | null, vehicle: CarFacts = { wheelNutTorqueNm: 110 }, perWheel = false): Setting => ({
  vehicle,
  ...flag('torquePerWheel', perWheel),
  answers: { 'wheel.torque-setting': value },
});
const CENTRE_LOCK: CarFacts = { wheelFastening: 'centre-lock', wheelNutTorqueNm: 600 };
const NARROW: CarFacts = { wheelNutTorqueNm: 110, wheelNutTorqueToleranceNm: 5 };

/** Service manual: 90 to 110 N·m for 100, a tenth. A centre lock of 600 N·m: one maker's figure, secondary source. */
const TORQUE: Cases = {
  'wheel-torque': [
    one('121 N·m where the maker asks for 110', 'met', torque(121)),
    one('122 N·m where the maker asks for 110', 'not-met', torque(122)),
    one('99 N·m where the maker asks for 110', 'met', torque(99)),
    one('98 N·m where the maker asks for 110', 'not-met', torque(98)),
    one('585 of 600 N·m at a centre lock', 'met', torque(585, CENTRE_LOCK)),
    one('539 of 600 N·m at a centre lock', 'not-met', torque(539, CENTRE_LOCK)),
    one('the maker’s own tolerance: 115 of 110 ± 5 N·m', 'met', torque(115, NARROW)),
    one('the maker’s own tolerance: 116 of 110 ± 5 N·m', 'not-met', torque(116, NARROW)),
    one('the maker’s torque is not known', 'met', torque(110, {})),
    one('the maker’s torque is not known, 49 N·m are not enough for any', 'not-met', torque(49, {})),
    one('the maker’s torque is not known, 50 N·m', 'met', torque(50, {})),
    { ...one('one wheel not read', 'unanswerable', torque(null)), at: { FL: 'unanswerable', FR: 'met' } },
    {
      ...one('one value for all wheels', 'met', torque(null, undefined, flag('torquePerWheel', false))),
      at: { FL: 'absent' },
    },
  ],
  'wheel-torque-setting': [
    one('121 N·m where the maker asks for 110', 'met', setTo(121)),
    one('122 N·m where the maker asks for 110', 'not-met', setTo(122)),
    one('the maker’s own tolerance: 116 of 110 ± 5 N·m', 'not-met', setTo(116, NARROW)),
    one('the maker’s torque is not known', 'met', setTo(110, {})),
    one('49 N·m are not enough for any', 'not-met', setTo(49, {})),
    one('50 N·m', 'met', setTo(50, {})),
    one('not answered', 'unanswerable', setTo(null)),
    one('a group that reads each wheel', 'absent', setTo(20, undefined, true)),
    one('each wheel was read', 'absent', torque(110, undefined, flag('torquePerWheel', false))),
  ],
  'wheel-torque-on-record': [one('on record', 'met', torque(110)), one('not on record', 'not-met', torque(110, {}))],
};

const engaged = (given: { length?: number; turns?: number }, vehicle: CarFacts): Setting => ({
  vehicle,
  answers: { 'wheel.stud-engagement': given },
});
const thread = (wheelStudDiameterMm: number, wheelThreadPitchMm: number, wheelThreadIn?: 'steel' | 'aluminium') => ({
  wheelStudDiameterMm,
  wheelThreadPitchMm,
  ...(wheelThreadIn !== undefined && { wheelThreadIn }),
});
const asked = (inAll: boolean, setting: Setting, fitting?: string): Setting => ({
  ...setting,
  ...flag('threadEngagementAsked', inAll),
  answers: { ...setting.answers, ...(fitting !== undefined && { 'wheel.fitting': fitting }) },
});

/** Turns for one diameter: M12×1.5 8, M14×1.5 9.33, M14×1.25 11.2; one and a half: M12×1.5 12, M14×1.5 14 (arithmetic) */
const THREADS: Cases = {
  'wheel-thread-engagement': [
    one('8 turns on M12×1.5', 'met', engaged({ turns: 8 }, thread(12, 1.5))),
    one('7.9 turns on M12×1.5', 'not-met', engaged({ turns: 7.9 }, thread(12, 1.5))),
    one('8 turns on M14×1.5', 'not-met', engaged({ turns: 8 }, thread(14, 1.5))),
    one('9.4 turns on M14×1.5', 'met', engaged({ turns: 9.4 }, thread(14, 1.5))),
    one('11.2 turns on M14×1.25', 'met', engaged({ turns: 11.2 }, thread(14, 1.25))),
    one('12 turns on M12×1.5 in aluminium', 'met', engaged({ turns: 12 }, thread(12, 1.5, 'aluminium'))),
    one('11.9 turns on M12×1.5 in aluminium', 'not-met', engaged({ turns: 11.9 }, thread(12, 1.5, 'aluminium'))),
    one('12 mm of M12', 'met', engaged({ length: 12 }, { wheelStudDiameterMm: 12 })),
    one('11.9 mm of M12', 'not-met', engaged({ length: 11.9 }, { wheelStudDiameterMm: 12 })),
    one('the shorter of length and turns counts', 'not-met', engaged({ length: 20, turns: 8 }, thread(14, 1.5))),
    one('turns on a thread that is not known', 'absent', engaged({ turns: 2 }, { wheelStudDiameterMm: 14 })),
    one('not answered', 'absent', { vehicle: thread(14, 1.5) }),
  ],
  'wheel-stud-turns': [one('the thread is known', 'absent', engaged({ turns: 2 }, thread(12, 1.5)))],
  'wheel-thread-known': [
    one('turns on a thread that is on record', 'met', engaged({ turns: 8 }, thread(12, 1.5))),
    one('turns on a thread that is not on record', 'not-met', engaged({ turns: 8 }, { wheelStudDiameterMm: 12 })),
    one('not answered', 'not-met', { vehicle: thread(12, 1.5) }),
    one('not asked of wheels as the maker fitted them', 'absent', asked(false, {}, 'as-the-maker-fitted')),
    one('asked with spacers', 'not-met', asked(false, {}, 'spacers')),
    one('a centre lock has no studs', 'absent', { vehicle: CENTRE_LOCK }),
  ],
  'wheel-fitting-known': [
    one('said', 'met', asked(false, {}, 'spacers')),
    one('not said', 'not-met', asked(false, {})),
    one('a group that measures all', 'absent', asked(true, {})),
  ],
};

/** Cases of steering, wheel play, fasteners and threads. */
export const WHEEL_CASES: Cases = { ...STEERING, ...PLAY, ...TORQUE, ...THREADS };

import { defineText } from '../../shared/text.ts';
import './pictures.css';

/** Outlines, what is to be looked at, surfaces, fine strokes; paths on a field of 240 × 160. No text: numbers come from the live limit. */
export interface Drawing {
  line: string;
  accent?: string;
  fill?: string;
  thin?: string;
}

const ring = (x: number, y: number, r: number): string =>
  `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0z`;

export const DRAWINGS = {
  'pad-section': {
    line: 'M40 36h150v28H40zM40 64v40h150V64M20 124h200M20 140h200',
    thin: 'M52 64l18-28M80 64l18-28M108 64l18-28M136 64l18-28M164 64l18-28',
    accent: 'M208 64v40M200 64h16M200 104h16',
  },
  'lining-section': {
    line: 'M30 130a90 90 0 0 1 180 0h-16a74 74 0 0 0-148 0zM58 130a62 62 0 0 1 124 0h-14a48 48 0 0 0-96 0z',
    accent: 'M120 40v16M112 40h16M112 56h16',
  },
  dipstick: {
    line: `${ring(18, 80, 12)}M30 70h196v20H30zM110 60v40M186 60v40`,
    fill: 'M148 70h78v20h-78z',
    accent: 'M110 116h76M110 110v12M186 110v12',
  },
  'tyre-date': {
    line: 'M6 150Q120 -80 234 150M66 152Q120 56 174 152M78 50h84a19 19 0 0 1 0 38H78a19 19 0 0 1 0-38z',
    thin: 'M82 60h14v18H82zM102 60h14v18h-14z',
    accent: 'M124 60h14v18h-14zM144 60h14v18h-14z',
  },
  'wear-bars': {
    line: 'M20 130V50h56v54h36V50h56v54h26V50h26v80z',
    fill: 'M76 88h36v16H76z',
    accent: 'M94 30v48M84 66l10 12 10-12',
  },
  'wear-holes': {
    line: `M20 40h200v80H20z${ring(180, 80, 12)}`,
    fill: `${ring(60, 80, 12)}${ring(120, 80, 12)}`,
    accent: 'M168 68l24 24M192 68l-24 24',
  },
  'tread-three': {
    line: 'M50 10h140v140H50zM86 10v140M120 10v140M154 10v140',
    accent: `${ring(86, 80, 12)}${ring(120, 80, 12)}${ring(154, 80, 12)}`,
  },
  'cuts-bulges': {
    line: 'M20 150V60q0-30 30-30h40M20 100q-18-16 0-36M110 30h40v120h-40zM170 30h50v120h-50z',
    accent: 'M14 70q-14 12 0 26M124 60l10 24-8 20 10 22',
    thin: 'M180 40v100M190 40v100M200 40v100M210 40v100M170 70h50M170 100h50',
  },
  'play-9-3': {
    line: `${ring(120, 80, 58)}${ring(120, 80, 14)}M50 60h24v40H50zM166 60h24v40h-24z`,
    accent: 'M30 96V64M22 76l8-12 8 12M210 64v32M202 84l8 12 8-12',
  },
  'play-12-6': {
    line: `${ring(120, 80, 58)}${ring(120, 80, 14)}M100 10h40v24h-40zM100 126h40v24h-40z`,
    accent: 'M152 20h34M174 12l12 8-12 8M88 140H54M66 132l-12 8 12 8',
  },
  'rotor-thickness': {
    line: 'M96 30h18v120H96zM126 30h18v120h-18zM90 14h60v16H90zM114 60h12M114 90h12M114 120h12',
    accent: 'M48 100h46M82 88l12 12-12 12M192 100h-46M158 88l-12 12 12 12',
  },
  'rotor-cracks': {
    line: 'M12 24h62v112H12zM89 24h62v112H89zM166 24h62v112h-62z',
    thin: 'M28 60l6 12M44 76l5 14M56 54l4 12M34 98l6 10',
    accent: 'M122 50l-8 22 10 18-6 22M198 24l-8 28 12 22-10 26 8 36',
  },
  'caliper-boot': {
    line: 'M24 24h76v112H24zM100 54h70v52h-70zM186 20h18v120h-18z',
    accent: 'M100 40l14 6-8 8 14 6M100 120l14-6-8-8 14-6',
    fill: 'M134 118q-12 18 0 24q12-6 0-24z',
  },
  'shaft-boot': {
    line: 'M6 70h64M6 90h64M186 70h48M186 90h48M70 60l16-22 12 12 14-20 14 14 14-14 14 16 32 14v40l-32 14-14 16-14-14-14 14-14-20-12 12-16-22z',
    accent: 'M122 52l10 18-10 16 8 14',
    fill: 'M128 128q-10 16 0 20q10-4 0-20z',
  },
  bushing: {
    line: `${ring(120, 80, 66)}${ring(120, 80, 52)}${ring(120, 80, 18)}`,
    accent: 'M84 50l14 14M148 66l20-10M140 104l12 22M96 98l-16 8',
  },
  'harness-label': {
    line: 'M10 50h220v60H10zM70 30h100v100H70zM82 44h28v28H82z',
    thin: 'M120 48h38M120 60h38M82 86h76',
    accent: 'M82 102h76v16H82z',
  },
  battery: {
    line: 'M50 56h140v80H50zM66 56V40h24v16M150 56V40h24v16M30 144h180',
    fill: 'M144 32h36v24h-36z',
    accent: 'M40 92h160M44 92v52M196 92v52',
  },
  'tow-eye': {
    line: 'M10 60q100-26 190 0v60q-90 22-190 0zM30 80h40v16H30z',
    accent: `M110 88h44${ring(176, 88, 22)}`,
  },
  'fluid-marks': {
    line: 'M72 44h96l10 20v78H62V64zM98 44V24h44v20M150 72h28M150 118h28',
    fill: 'M62 92h116v50H62z',
    accent: 'M196 72v46M190 72h12M190 118h12',
  },
  'carbon-chip': {
    line: 'M20 150a100 100 0 0 1 200 0h-50a50 50 0 0 0-100 0z',
    accent: 'M146 54l6 18 18-2M132 40l34 18',
  },
  'bolt-order': {
    line: `${ring(120, 80, 66)}${ring(120, 32, 9)}${ring(166, 65, 9)}${ring(148, 119, 9)}${ring(92, 119, 9)}${ring(74, 65, 9)}`,
    accent: 'M120 32l28 87-74-54h92l-74 54z',
  },
  'rim-play': {
    line: `${ring(120, 88, 56)}${ring(120, 88, 12)}M66 88h42M132 88h42M120 100v42`,
    accent: 'M96 16q24-8 48 0M108 8L96 16l12 8M132 8l12 8-12 8',
  },
  'helmet-label': {
    line: 'M30 120V90a80 70 0 0 1 160 0v8l-30 4v30H60q-30 0-30-12zM190 98l10 22',
    thin: 'M70 96h60M70 106h40',
    accent: 'M62 84h78v32H62z',
  },
} as const satisfies Readonly<Record<string, Drawing>>;

export type DrawingName = keyof typeof DRAWINGS;

/** Which drawings show what is asked by an item. */
export const DRAWINGS_OF: Readonly<Record<string, readonly DrawingName[]>> = {
  'pad.thickness': ['pad-section'],
  'pad.even': ['pad-section'],
  'lining.thickness': ['lining-section'],
  'oil.level.reading': ['dipstick'],
  'tyre.date-code': ['tyre-date'],
  'tyre.axle-marking': ['tyre-date'],
  'tyre.tread-lowest': ['tread-three', 'wear-bars'],
  'tyre.tread': ['tread-three', 'wear-bars'],
  'tyre.wear-holes': ['wear-holes'],
  'tyre.cords-visible': ['cuts-bulges'],
  'tyre.cuts-or-bulges': ['cuts-bulges'],
  'wheel-play.nine-three': ['play-9-3'],
  'wheel-play.twelve-six': ['play-12-6'],
  'rotor.thickness': ['rotor-thickness'],
  'rotor.cracks': ['rotor-cracks'],
  'rotor.edge-chips': ['carbon-chip'],
  'caliper.boots': ['caliper-boot'],
  'caliper.seals': ['caliper-boot'],
  'driveline.boots-and-joints': ['shaft-boot'],
  'bushing.condition': ['bushing'],
  'harness.standard': ['harness-label'],
  'harness.label-date': ['harness-label'],
  'harness.label-kind': ['harness-label'],
  'battery.secured': ['battery'],
  'battery.positive-covered': ['battery'],
  'body.tow-eye': ['tow-eye'],
  'brake-fluid.level': ['fluid-marks'],
  'clutch-fluid.level': ['fluid-marks'],
  'wheel.torque': ['bolt-order'],
  'wheel.torque-setting': ['bolt-order'],
  'steering.free-play': ['rim-play'],
  'helmet.standard': ['helmet-label'],
  'helmet.made-on': ['helmet-label'],
};

/** What is needed for it. */
export const TOOLS = [
  'tread-gauge',
  'pad-gauge',
  'micrometer',
  'vernier',
  'pressure-gauge',
  'torque-wrench',
  'lamp',
  'stands',
  'ruler',
  'cloth',
  'scales',
  'watch',
] as const;
export type Tool = (typeof TOOLS)[number];

/** What is needed for an item, and how long it takes for the whole car once one is there: minutes. */
export interface Effort {
  tools: readonly Tool[];
  minutes: number;
}

/** By item; a look that takes a moment has none. Common practice, no source. */
export const EFFORTS: Readonly<Record<string, Effort>> = {
  'pad.thickness': { tools: ['stands', 'pad-gauge', 'lamp'], minutes: 4 },
  'pad.even': { tools: ['stands', 'lamp'], minutes: 2 },
  'lining.thickness': { tools: ['stands', 'ruler', 'lamp'], minutes: 10 },
  'rotor.thickness': { tools: ['stands', 'micrometer'], minutes: 4 },
  'drum.diameter': { tools: ['stands', 'vernier'], minutes: 15 },
  'rotor.cracks': { tools: ['stands', 'lamp'], minutes: 3 },
  'rotor.weight': { tools: ['stands', 'scales'], minutes: 40 },
  'rotor.edge-chips': { tools: ['stands', 'ruler', 'lamp'], minutes: 4 },
  'caliper.boots': { tools: ['stands', 'lamp'], minutes: 2 },
  'caliper.seals': { tools: ['stands', 'lamp'], minutes: 4 },
  'caliper.guides': { tools: ['stands'], minutes: 2 },
  'tyre.tread-lowest': { tools: ['tread-gauge'], minutes: 3 },
  'tyre.tread': { tools: ['tread-gauge'], minutes: 5 },
  'tyre.date-code': { tools: ['lamp'], minutes: 3 },
  'tyre.axle-marking': { tools: ['lamp'], minutes: 2 },
  'tyre.rating': { tools: ['lamp'], minutes: 2 },
  'tyre.cold-pressure': { tools: ['pressure-gauge'], minutes: 3 },
  'tyre.hot-pressure': { tools: ['pressure-gauge'], minutes: 2 },
  'wheel-play.nine-three': { tools: ['stands'], minutes: 2 },
  'wheel-play.twelve-six': { tools: ['stands'], minutes: 2 },
  'wheel.torque': { tools: ['torque-wrench'], minutes: 5 },
  'wheel.torque-setting': { tools: ['torque-wrench'], minutes: 5 },
  'wheel.stud-engagement': { tools: ['torque-wrench'], minutes: 5 },
  'driveline.boots-and-joints': { tools: ['stands', 'lamp'], minutes: 3 },
  'bushing.condition': { tools: ['stands', 'lamp'], minutes: 5 },
  'bushing.play': { tools: ['stands', 'lamp'], minutes: 8 },
  'suspension.fasteners': { tools: ['stands', 'torque-wrench', 'lamp'], minutes: 10 },
  'gearbox-fluid.level': { tools: ['stands', 'lamp'], minutes: 10 },
  'differential-fluid.level': { tools: ['stands', 'lamp'], minutes: 10 },
  'steering.free-play': { tools: ['ruler'], minutes: 2 },
  'oil.level.reading': { tools: ['cloth', 'watch'], minutes: 8 },
  'brake-fluid.level': { tools: ['lamp'], minutes: 1 },
  'coolant.level': { tools: ['lamp'], minutes: 1 },
  'engine.leaks': { tools: ['lamp', 'cloth'], minutes: 3 },
  'brake.pedal': { tools: ['watch'], minutes: 1 },
  'setup.corner-weights': { tools: ['scales'], minutes: 30 },
};

/** What drawings show and which tools are needed, fetched after the first look at the page. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
const { t } = text;

/** How an item is looked at: drawings of it, what is needed and how long it takes. */
export function HowTo({ item }: { item: string }) {
  const names = DRAWINGS_OF[item] ?? [];
  const effort = EFFORTS[item];
  return (
    <>
      {names.length > 0 && (
        <div class="pictures">
          {names.map((name) => (
            <Picture key={name} name={name} />
          ))}
        </div>
      )}
      {effort !== undefined && (
        <p class="soft">
          {t('effort', {
            tools: effort.tools.map((tool) => t(`tool.${tool}`)).join(', '),
            time: t('minutes', { count: effort.minutes }),
          })}
        </p>
      )}
    </>
  );
}

/** A drawing in the colours of the display; what it shows is said in words for who does not see it. */
function Picture({ name }: { name: DrawingName }) {
  const { line, thin, fill, accent }: Drawing = DRAWINGS[name];
  return (
    <svg class="picture" viewBox="0 0 240 160" role="img" aria-label={t(`picture.${name}`)} focusable="false">
      {fill !== undefined && <path class="fill" d={fill} />}
      {thin !== undefined && <path class="thin" d={thin} />}
      <path d={line} />
      {accent !== undefined && <path class="accent" d={accent} />}
    </svg>
  );
}

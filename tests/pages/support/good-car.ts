import type { Page } from 'playwright-core';

/** What a person does with the phone, counted: a tap also where a field is entered first. */
export interface Count {
  taps: number;
  typed: number;
  screens: string[];
  tallest: number;
}

/** How far down the button reaches that leads on, in CSS pixels. */
export const heightOf = (page: Page): Promise<number> =>
  page.evaluate(() => {
    const button = document.querySelector('.go-on') ?? document.querySelector('#submit');
    return button === null ? 0 : Math.round(button.getBoundingClientRect().bottom + globalThis.scrollY);
  });

/** A walk through the garage, one screen after the other. */
export interface Walk {
  page: Page;
  count: Count;
  startsOn: string;
  words: { goOn: RegExp; all: RegExp };
  onScreen(name: string): Promise<void>;
}

const daysBefore = (day: string, days: number): string =>
  new Date(Date.parse(`${day}T00:00:00Z`) - days * 86_400_000).toISOString().slice(0, 10);

/** What is typed or chosen where one look is not enough, by the screen. */
function answers({ page, count, startsOn }: Walk) {
  const tap = async (name: string): Promise<void> => {
    await page.locator(name).first().click();
    count.taps += 1;
  };
  // the first field of a screen is tapped; from there "next" of the keyboard goes on
  const type = async (...cells: readonly (readonly [cell: string, value: string])[]): Promise<void> => {
    count.taps += 1;
    for (const [cell, value] of cells) {
      await page.locator(`#${cell}`).fill(value);
      count.typed += 1;
    }
  };
  // a list opens with one tap and closes with another
  const choose = async (cell: string, value: string): Promise<void> => {
    await page.locator(`#${cell}`).selectOption(value);
    count.taps += 2;
  };
  const option = (cell: string, nth: number) => tap(`#${cell} .option >> nth=${nth}`);
  const at = (item: string, ...positions: string[]) => positions.map((one) => `cell-${item}_${one}`);
  return {
    'brake-fluid': async () => {
      await choose('cell-brake-fluid_class', 'DOT 4');
      await type(['cell-brake-fluid_flushed-on', daysBefore(startsOn, 60)]);
    },
    clutch: () => choose('cell-clutch-fluid_class', 'DOT 4'),
    clothing: () => option('cell-clothing', 1),
    gear: async () => {
      await choose('cell-helmet_standard', 'Snell SA2020');
      await type(['cell-helmet_made-on', daysBefore(startsOn, 700)]);
    },
    papers: () => type(['cell-pre-event-check_done-on', daysBefore(startsOn, 1)]),
    oil: () => type(['cell-oil_level_reading', '0.8'], ['cell-oil_level_minutes-since-shutdown', '7']),
    pedal: () => type(['cell-steering_free-play_play', '8']),
    tyres: () => option('cell-tyre_kind', 0),
    tread: () => type(...at('tyre_tread-lowest', 'FL', 'FR', 'RL', 'RR').map((cell) => [cell, '4.6'] as const)),
    'tyre-marks': async () => {
      await type(['cell-tyre_date-code_FL', `12${daysBefore(startsOn, 400).slice(2, 4)}`]);
      await tap('button:has-text("All four are")');
    },
    pressures: () => type(['cell-tyre_cold-pressure_front', '220'], ['cell-tyre_cold-pressure_rear', '230']),
    pads: () => type(['cell-pad_thickness_front', '8']),
    linings: () => type(['cell-lining_thickness_rear', '3.6']),
    rotors: () => type(['cell-rotor_thickness_front', '20.5']),
    torque: () => type(['cell-wheel_torque-setting', '110']),
    felt: () => tap('#cell-debrief_symptoms .option >> nth=-1'),
  } satisfies Record<string, () => Promise<void>>;
}

const screenOf = (page: Page): string => new URL(page.url()).searchParams.get('screen') ?? '';

/** Answers a screen after the other as a good car is, until the check. */
export async function walkGoodCar(of: Walk): Promise<void> {
  const { page, count, words } = of;
  const typed = answers(of) as Record<string, (() => Promise<void>) | undefined>;
  for (let index = 0; index < 40 && !new URL(page.url()).searchParams.has('check'); index += 1) {
    const screen = screenOf(page);
    await page.locator('#screen').waitFor();
    count.screens.push(screen);
    await typed[screen]?.();
    const all = page.getByRole('button', { name: words.all });
    if ((await all.count()) > 0) {
      await all.first().click();
      count.taps += 1;
    }
    await of.onScreen(screen);
    count.tallest = Math.max(count.tallest, await heightOf(page));
    await page.getByRole('button', { name: words.goOn }).click();
    count.taps += 1;
    await page.waitForFunction((before) => !location.search.includes(`screen=${before}`) || before === '', screen);
  }
}

/** The same car as its owner tells what it is: a small hatch with drums at the rear. */
const OWN_CAR: Readonly<Record<string, readonly (readonly [label: string, value: string])[]>> = {
  'What it is': [
    ['Colour', 'light blue'],
    ['Body', 'closed'],
    ['What drives it', 'engine'],
    ['Gas it carries to drive', 'none'],
    ['Driven wheels', 'front'],
    ['Mass with driver', '1040'],
  ],
  Brakes: [
    ['Brake, front', 'iron disc'],
    ['Caliper, front', 'floating'],
    ['Brake, rear', 'drum'],
    ['Least thickness stamped on the disc, front', '19'],
    ['Largest diameter cast in the drum, rear', '204'],
    ['Brake lining, rear', 'bonded'],
  ],
  'Wheels and torque': [
    ['What holds the wheels', 'bolts'],
    ['Torque of the wheel bolts, from the handbook', '110'],
  ],
  Belts: [["Driver's belt", 'three-point belt']],
  Fluids: [
    ['Brake fluid the maker asks for', 'DOT 4'],
    ['The clutch has a fluid', 'Yes'],
    ['Clutch fluid the maker asks for', 'DOT 4'],
    ['Brakes and clutch share one tank', 'No'],
    ['How the oil level is read', 'dipstick'],
    ['Oil system', 'wet sump'],
    ['Cooling', 'water'],
    ['A fuel cell is fitted: a safety tank with a bladder, as race cars have', 'No'],
  ],
  Gearbox: [
    ['Gearbox oil', 'sealed for life'],
    ['The differential has oil of its own', 'No'],
  ],
  'Steering and suspension': [
    ['Steering gear', 'rack'],
    ['The dampers can be serviced', 'No'],
  ],
  Bushings: [['Bushing, everywhere the same', 'rubber']],
};

/** Tells on the page of the car what it is, and goes back to the declaration. */
export async function fillCar(page: Page): Promise<void> {
  await page.getByRole('link', { name: 'Your car: what it is' }).click();
  await page.locator('.car-section').first().waitFor();
  for (const [section, fields] of Object.entries(OWN_CAR)) {
    if (section !== 'What it is') await page.locator('summary', { hasText: section }).first().click();
    for (const [label, value] of fields) {
      const field = page.getByLabel(label, { exact: true });
      if (await field.evaluate((one) => one.tagName === 'SELECT')) await field.selectOption({ label: value });
      else await field.fill(value);
      await field.blur();
    }
  }
  await page.getByText('not yet told').first().waitFor({ state: 'detached' });
  await page.getByRole('link', { name: 'To the declaration' }).click();
}

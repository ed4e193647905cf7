import { z } from 'zod';
import { AREAS } from '../../../domain/catalogue/item.ts';
import { PART_DAYS } from '../../../domain/prepare/work-table.ts';
import { Id, InstantOut, line, PlainDateOut } from '../../../http/frame/common-schemas.ts';
import { RawAnswersIn } from '../schemas.ts';

// names of a record that is written out in full
const PARTS = Object.keys(PART_DAYS) as (keyof typeof PART_DAYS)[];

const Areas = z.array(z.enum(AREAS)).describe('Areas of the car; empty: all of it');
const ShopName = line(80).describe('Name of the shop');
const Code = z.string().describe('The secret. It is shown this once and cannot be read again; one shop takes it, once');

export const shopLinkParams = z.strictObject({ entryId: Id, shopLinkId: Id });
export const shopParams = z.strictObject({ shopId: Id });
export const shopCarParams = z.strictObject({ shopId: Id, shopLinkId: Id });

export const MakeShopLink = z
  .strictObject({
    shop: line(80).describe('The shop, as you call it'),
    areas: z
      .array(z.enum(AREAS))
      .min(1)
      .max(AREAS.length)
      .optional()
      .describe(
        'Areas of the car that the shop answers for; left out: all of them, without what only the driver can say',
      ),
  })
  .meta({ id: 'MakeShopLink' });
export type MakeShopLink = z.infer<typeof MakeShopLink>;

const linkFields = {
  shopLinkId: Id.describe('Id of the link'),
  shop: z.string().describe('The shop, as it calls itself once it has taken the link'),
  areas: Areas,
  state: z
    .enum(['open', 'taken', 'ended', 'expired'])
    .describe('`open`: no shop has taken it yet; `expired`: its code was not used in time; `ended`: taken back'),
  createdAt: InstantOut.describe('When it was made'),
  takenAt: InstantOut.optional().describe('When a shop took it'),
  endedAt: InstantOut.optional().describe('When it was taken back'),
};

export const ShopLink = z
  .object({
    ...linkFields,
    unsigned: z.int().describe('Questions that the shop has answered and not signed: nobody else sees those answers'),
    signatures: z
      .array(
        z.object({
          signatureId: Id.describe('Id of the signature'),
          name: z.string().describe('Who signed'),
          signedAt: InstantOut.describe('When'),
        }),
      )
      .describe('What the shop has signed, oldest first; which answers each stands for is in the form'),
  })
  .meta({ id: 'ShopLink' });
export type ShopLink = z.infer<typeof ShopLink>;

export const NewShopLink = z
  .object({
    ...linkFields,
    code: Code,
    url: z.string().describe('To be sent to the shop. The code stands behind `#`, which a browser sends to nobody'),
    codeEndsAt: InstantOut.describe('From this instant on no shop can take it'),
  })
  .meta({ id: 'NewShopLink' });
export type NewShopLink = z.infer<typeof NewShopLink>;

export const ShopLinks = z
  .object({ links: z.array(ShopLink).describe('Newest first, also those that have ended') })
  .meta({ id: 'ShopLinks' });

const CodeIn = z.string().min(1).max(100).describe('The code of a link to an entry, as its owner sent it');

export const OpenShop = z.strictObject({ code: CodeIn, name: ShopName }).meta({ id: 'OpenShop' });
export type OpenShop = z.infer<typeof OpenShop>;

export const TakeCar = z.strictObject({ code: CodeIn }).meta({ id: 'TakeCar' });

export const OpenedShop = z
  .object({
    shopId: Id.describe('Id of the shop'),
    name: z.string().describe('Name of the shop'),
    tokenId: Id.describe('Id of its token'),
    token: z.string().describe('The secret. It is shown this once and cannot be read again'),
    expiresAt: InstantOut.describe('From this instant on it no longer works; each car that is taken moves it on'),
    shopLinkId: Id.describe('The car that came with it'),
  })
  .meta({ id: 'OpenedShop' });
export type OpenedShop = z.infer<typeof OpenedShop>;

export const ShopToken = OpenedShop.omit({ shopLinkId: true }).meta({ id: 'ShopToken' });
export type ShopToken = z.infer<typeof ShopToken>;

export const SHOP_STATES = ['to-mend', 'to-answer', 'to-sign', 'done', 'withdrawn'] as const;

const PartView = z.object({
  part: z.enum(PARTS).describe('What to order'),
  places: z.array(z.string()).describe('Axles, where it sits at wheels; else places on the car'),
  isNeeded: z.boolean().describe('The car stands without it; else the line looks, and it is good to have'),
});

/** One car of a shop. */
export const ShopCar = z
  .object({
    shopLinkId: Id.describe('The link to its entry; the car is read and answered under it'),
    carNumber: z.string().describe('Exact text'),
    description: z.string().describe('What car it is'),
    colour: z.string().optional().describe('Its colour'),
    owner: z.string().describe('Who entered it'),
    runGroup: z.string().describe('Name of its run group'),
    event: z
      .object({
        name: z.string().describe('Its name'),
        startsOn: PlainDateOut,
        endsOn: PlainDateOut,
        timeZone: z.string().describe('Of the venue, an IANA name'),
      })
      .describe('The event it is entered in'),
    areas: Areas.describe('What the owner gave the shop; empty: all of it'),
    state: z
      .enum(SHOP_STATES)
      .describe(
        'What comes next: `to-mend`: it may not go on track; `to-answer`, `to-sign`; `done`: nothing for the shop',
      ),
    asked: z.int().describe('Questions of its part that rules in force need'),
    given: z.int().describe('Those that are answered'),
    bars: z.int().describe('Jobs without which the car may not go on track'),
    looks: z.int().describe('Jobs that the line looks at'),
    unsigned: z.int().describe('Questions that the shop has answered and not signed'),
    signed: z
      .object({ name: z.string().describe('Who signed last'), signedAt: InstantOut.describe('When') })
      .optional()
      .describe('The last signature of the shop'),
    declaredRevision: z.int().optional().describe('What the owner submitted last; absent: nothing yet'),
    orderBy: PlainDateOut.describe('By when to order parts: two weeks before the event, or today'),
    declareBy: InstantOut.describe('By when the owner must submit'),
    firstSessionAt: InstantOut.describe('When it first goes on track'),
    parts: z.array(PartView).describe('What to order, needed parts first'),
  })
  .meta({ id: 'ShopCar' });
export type ShopCar = z.infer<typeof ShopCar>;

export const ShopCars = z
  .object({
    cars: z
      .array(ShopCar)
      .describe(
        'By when each must be declared; those whose event is over for a week, or that were taken back, are gone',
      ),
  })
  .meta({ id: 'ShopCars' });

/** What is to be done to a car. */
export const WorkOrderView = z
  .object({
    lines: z
      .array(
        z.object({
          ruleId: z.string().describe('The rule that asks for it'),
          title: z.string().describe('What was judged'),
          positions: z.array(z.string()).describe('Where; empty: the car as a whole'),
          counts: z.enum(['bar', 'inspect', 'advise']).describe('`bar`: the car stands until it is done'),
          message: z.string().describe('What is wrong'),
          fix: z.string().describe('What to do'),
          limit: z.string().optional().describe('What was asked for'),
          items: z.array(z.string()).describe('Catalogue keys; the first is answered again once it is done'),
          part: z.enum(PARTS).optional().describe('What to have in stock for it'),
        }),
      )
      .describe('What stops the car first'),
    parts: z.array(PartView).describe('Parts for all of it, needed ones first'),
    wheelTorque: z
      .object({ nm: z.number().describe('N·m'), toleranceNm: z.number().optional().describe('More or less, N·m') })
      .optional()
      .describe('Of the wheel fasteners, from the record of the car; absent: nobody has said it'),
  })
  .meta({ id: 'WorkOrder' });
export type WorkOrderView = z.infer<typeof WorkOrderView>;

export const SaveShopAnswers = z
  .strictObject({
    answers: RawAnswersIn.describe(
      'All answers of the part of the shop, as in a draft; what the owner said may be left out',
    ),
  })
  .meta({ id: 'SaveShopAnswers' });

export const SignAnswers = z
  .strictObject({ name: line(80).describe('Who stands for these answers: the person who looked and measured') })
  .meta({ id: 'SignAnswers' });

export const SignedAnswers = z
  .object({
    signatureId: Id.describe('Id of the signature'),
    shop: z.string().describe('Name of the shop'),
    name: z.string().describe('Who signed'),
    signedAt: InstantOut.describe('When'),
    places: z.array(z.string()).describe('The answers it stands for: `oil.grade`, `pad.thickness@FL.in`'),
  })
  .meta({ id: 'SignedAnswers' });
export type SignedAnswers = z.infer<typeof SignedAnswers>;

import { GENERAL_CAUTION } from '../../../domain/cautions.ts';
import { FORM_EXAMPLE } from '../form-schema.ts';
import type { DraftView } from '../schemas.ts';
import type {
  MakeShopLink,
  NewShopLink,
  OpenedShop,
  OpenShop,
  ShopCar,
  ShopLink,
  ShopToken,
  SignedAnswers,
  WorkOrderView,
} from './schemas.ts';

const SHOP_ID = '019ab8f0-0000-7000-8000-0000000001a1';
const LINK_ID = '019ab8f0-0000-7000-8000-0000000001b1';
const CODE = 'an-example-of-a-code-x';
const NAME = 'Unit 7 workshop';
const SIGNED_AT = '2026-06-08T14:05:00.000Z';
const SIGNATURE = { signatureId: '019ab8f0-0000-7000-8000-0000000001c1', name: 'Ada Quist', signedAt: SIGNED_AT };

export const MAKE_EXAMPLE: MakeShopLink = { shop: NAME, areas: ['wheels-tyres', 'brake-hardware'] };

const LINK = {
  shopLinkId: LINK_ID,
  shop: NAME,
  areas: ['wheels-tyres', 'brake-hardware'],
  createdAt: '2026-06-01T08:00:00.000Z',
} satisfies Partial<ShopLink>;

export const NEW_LINK_EXAMPLE: NewShopLink = {
  ...LINK,
  state: 'open',
  code: CODE,
  url: `https://tech.example.org/shop#${CODE}`,
  codeEndsAt: '2026-07-01T08:00:00.000Z',
};

export const LINK_EXAMPLE: ShopLink = {
  ...LINK,
  state: 'taken',
  takenAt: '2026-06-02T06:30:00.000Z',
  unsigned: 0,
  signatures: [SIGNATURE],
};

export const OPEN_EXAMPLE: OpenShop = { code: CODE, name: NAME };
export const TAKE_EXAMPLE = { code: CODE };

export const TOKEN_EXAMPLE: ShopToken = {
  shopId: SHOP_ID,
  name: NAME,
  tokenId: '019ab8f0-0000-7000-8000-0000000001f1',
  token: 'gw_example-of-a-token-that-does-not-work',
  expiresAt: '2027-07-07T06:30:00.000Z',
};
export const OPENED_EXAMPLE: OpenedShop = { ...TOKEN_EXAMPLE, shopLinkId: LINK_ID };

const PART = { part: 'pads' as const, places: ['front'], isNeeded: true };

export const CAR_EXAMPLE: ShopCar = {
  shopLinkId: LINK_ID,
  carNumber: '42',
  description: 'Hatchback 1.6, 2009',
  colour: 'yellow',
  owner: 'Ines Haldorsen',
  runGroup: 'Novice',
  event: FORM_EXAMPLE.event,
  areas: ['wheels-tyres', 'brake-hardware'],
  state: 'to-mend',
  asked: 38,
  given: 36,
  bars: 1,
  looks: 0,
  unsigned: 2,
  signed: { name: SIGNATURE.name, signedAt: SIGNED_AT },
  orderBy: '2026-06-09',
  declareBy: '2026-06-12T18:00:00.000Z',
  firstSessionAt: '2026-06-13T07:20:00.000Z',
  parts: [PART],
};

export const ORDER_EXAMPLE: WorkOrderView = {
  lines: [
    {
      ruleId: 'pad-thickness',
      title: 'Brake pad friction material',
      positions: ['FL.in'],
      counts: 'bar',
      message: 'The pad is too thin to last the event.',
      fix: 'Fit new pads on both sides of the axle and bed them in.',
      limit: '≥ 4 mm',
      items: ['pad.thickness'],
      part: 'pads',
    },
  ],
  parts: [PART],
  wheelTorque: { nm: 110, toleranceNm: 10 },
};

export const ANSWERS_EXAMPLE = { answers: { 'pad.thickness': { 'FL.in': 10, 'FL.out': 10 } } };

export const SAVED_EXAMPLE: DraftView = {
  entryId: FORM_EXAMPLE.entryId,
  draftRev: 3,
  verdict: 'barred',
  tally: FORM_EXAMPLE.tally,
  judgedBy: FORM_EXAMPLE.judgedBy,
  findings: [],
  gone: [{ ruleId: 'pad-thickness', position: 'FL.in' }],
  asked: { cells: ['pad.thickness@FL.in'], because: {} },
  missing: [],
  said: [],
  doubts: [],
  notApplicable: [],
  caution: GENERAL_CAUTION,
};

export const SIGNED_EXAMPLE: SignedAnswers = {
  ...SIGNATURE,
  shop: NAME,
  places: ['pad.thickness@FL.in', 'pad.thickness@FL.out'],
};

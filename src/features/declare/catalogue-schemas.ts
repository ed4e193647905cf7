import { z } from 'zod';
import { AREAS } from '../../domain/catalogue/item.ts';
import { NO_ANSWER_REASONS, type NoAnswerReason } from '../../domain/declaration/no-answer.ts';
import { AnswerTypeView } from '../../http/frame/common-schemas.ts';

const OneOf = z.array(z.string()).optional();

const AppliesWhenView = z
  .object({
    body: OneOf.describe('Bodies it is asked for'),
    powertrain: OneOf.describe('Powertrains it is asked for'),
    oilLevelMethod: OneOf.describe('Ways of reading the oil level it is asked for'),
    gearbox: OneOf.describe('Kinds of gearbox it is asked for'),
    sump: OneOf.describe('Sumps it is asked for'),
    restraint: OneOf.describe('Restraints it is asked for'),
    cooling: OneOf.describe('Ways of cooling it is asked for'),
    wheelFastening: OneOf.describe('Wheel fastenings it is asked for'),
    caliper: z.string().optional().describe('Only at axles with these calipers'),
    brake: z.string().optional().describe('Only at axles with discs, or with drums'),
    rotor: z.string().optional().describe('Only at axles with these rotors'),
    bushing: OneOf.describe('Only at bushings of these types'),
    rebuildableDampers: z.boolean().optional().describe('Only with (without) dampers that are rebuilt'),
    clutchHydraulic: z.boolean().optional().describe('Only with (without) a hydraulic clutch'),
    separateDifferential: z.boolean().optional().describe('Only with (without) a differential of its own'),
    fuelCell: z.boolean().optional().describe('Only with (without) a fuel cell'),
  })
  .meta({ id: 'AppliesWhen' });

/** An item that waits for another answer. */
export const AskedAfterView = z
  .object({
    item: z.string().describe('Catalogue key; at the same position where both have positions'),
    answers: z.array(z.string()).describe('It is asked once one of these is answered there'),
  })
  .describe('Asked only after another answer; absent: asked at once');
/** Reasons as a list that a form shows. */
export const DoesNotApplyView = z
  .array(
    z.object({
      reason: z.string().describe('Sent as `{"doesNotApply": reason}`'),
      label: z.string().describe('As people read it'),
    }),
  )
  .describe(
    'Reasons why the question may not apply to a car whose record does not say so; absent: it must be answered',
  );

/** Reasons with their words. */
export const viewDoesNotApply = (reasons: readonly NoAnswerReason[]): z.infer<typeof DoesNotApplyView> =>
  reasons.map((reason) => ({ reason, label: NO_ANSWER_REASONS[reason] }));

export const CatalogueItemView = z
  .object({
    key: z.string().describe('Stable name; answers and rules use it'),
    area: z.enum(AREAS).describe('Area of the car'),
    label: z.string().describe('The question'),
    help: z.string().describe('How to look or measure'),
    answer: AnswerTypeView,
    positionScheme: z.string().optional().describe('Where on the car it is asked; absent: once for the car'),
    positions: z.array(z.string()).optional().describe('Keys of a positioned answer, before the vehicle is known'),
    answeredBy: z.enum(['entrant', 'inspector', 'both']).describe('`both`: declared, then measured again at the line'),
    appliesWhen: AppliesWhenView.optional().describe('All must hold; what the vehicle record leaves open is asked'),
    askedAfter: AskedAfterView.optional(),
    detailOf: z
      .string()
      .optional()
      .describe('Key of the item that asks the same in less detail: where that one is asked, either will do'),
    lowestOf: z
      .enum(['axle', 'wheel'])
      .optional()
      .describe('Its lowest value of an axle or a wheel may be given once, with the basis that says so'),
    doesNotApply: DoesNotApplyView.optional(),
    cautions: z.array(z.string()).describe('Read before doing this check'),
  })
  .meta({ id: 'CatalogueItem' });
export type CatalogueItemView = z.infer<typeof CatalogueItemView>;

export const CatalogueView = z
  .object({
    version: z.number().describe('Version of the catalogue'),
    areas: z.array(z.enum(AREAS)).describe('In the order of forms'),
    positionSchemes: z.record(z.string(), z.array(z.string())).describe('Position keys of each scheme, in order'),
    units: z.record(z.string(), z.array(z.string())).describe('Units of each dimension; they convert into each other'),
    items: z.array(CatalogueItemView).describe('In the order of forms'),
    caution: z.string().describe('Belongs on everything that shows a verdict'),
  })
  .meta({ id: 'Catalogue' });
export type CatalogueView = z.infer<typeof CatalogueView>;

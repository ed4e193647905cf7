/** Names of facts, without what is known of each: pages need no more than these. */
const ITEM_PREFIX = 'car.';

/** The key under which the line answers what a property of the car is. */
export const itemOfField = (field: string): string => ITEM_PREFIX + field;

/** The property that an item of the line is about; nothing for items of the catalogue. */
export const fieldOfItem = (item: string): string | undefined =>
  item.startsWith(ITEM_PREFIX) ? item.slice(ITEM_PREFIX.length) : undefined;

/** The key under which the line answers what a number of the car is. */
export const itemOfFact = (path: string): { item: string; position?: string } => {
  const [field = '', position] = path.split('.');
  return { item: itemOfField(field), ...(position !== undefined && { position }) };
};

const PAIRS: Readonly<Record<string, string>> = { FL: 'FR', FR: 'FL', RL: 'RR', RR: 'RL' };

/** The same fact of the other wheel of the axle: one part number, one stamp. */
export function pairOf(path: string): string | undefined {
  const [field = '', position = ''] = path.split('.');
  const other = PAIRS[position];
  return other === undefined ? undefined : `${field}.${other}`;
}

/** Where a fact is read, of these places: itself, or the other wheel of its axle, which then stands for both. */
export function placeOfFact(path: string, places: readonly (string | undefined)[]): string | undefined {
  const { position } = itemOfFact(path);
  return position === undefined || places.includes(position) ? position : pairOf(path)?.split('.')[1];
}

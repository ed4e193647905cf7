/** The id of a field in the page. */
export const fieldId = (cell: string): string => `cell-${cell.replace(/[^\w-]/g, '_')}`;
export const itemId = (key: string): string => `item-${key.replace(/[^\w-]/g, '_')}`;

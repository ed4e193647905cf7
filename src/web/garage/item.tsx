import type { FormItem } from './asked.ts';
import { itemId } from './field-id.ts';
import { ItemEarlier } from './item-earlier.tsx';
import { ItemPhotos } from './item-photos.tsx';
import { ItemPlaces } from './item-places.tsx';
import { ItemFindings, ItemLimits } from './item-rules.tsx';

/** One question: how to look, the limits, the fields, what the rules say. */
export function Item({ item }: { item: FormItem }) {
  const id = itemId(item.key);
  return (
    <div class="panel item" role="group" aria-labelledby={id}>
      <h3 id={id} tabIndex={-1}>
        {item.label}
      </h3>
      <p class="help">{item.help}</p>
      <ItemLimits item={item} />
      <ItemEarlier item={item} />
      <ItemPlaces item={item} />
      <ItemFindings item={item} />
      <ItemPhotos item={item} />
    </div>
  );
}

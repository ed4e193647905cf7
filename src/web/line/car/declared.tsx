import type { CatalogueItem } from '../../api/operations.ts';
import { valueText } from '../format.ts';
import type { Point } from '../state/worksheet.ts';
import { partsOf } from '../state/read-typed.ts';
import { text } from '../text.ts';

const { t } = text;

/** What the entrant said here. */
export function Declared({ point, item }: { point: Point; item: CatalogueItem | undefined }) {
  const said = Object.entries(point.declared ?? {});
  if (said.length === 0) return <p class="soft">{t('declared.none')}</p>;
  const parts = item === undefined ? [] : partsOf(item);
  const words = said.map(([name, value]) => {
    const part = parts.find((one) => one.name === name);
    const unit = part?.type.kind === 'number' ? part.type.unit : undefined;
    const shown = valueText(value, unit);
    return part?.label === undefined ? shown : `${part.label}: ${shown}`;
  });
  return (
    <p>
      {t('declared')} <strong class="number">{words.join('; ')}</strong>
      {point.basis !== undefined && (
        <span class="soft"> ({t(`basis.${point.basis.basis}`, { of: point.basis.of ?? '' })})</span>
      )}
    </p>
  );
}

import type { Unit } from '../../domain/quantity.ts';
import { chooseUnit, chosenUnits, suffixOf, UNIT_CHOICES, UNIT_KINDS } from '../shared/units.ts';
import { text } from './text.ts';

const WORDS = { turns: 'unit.turns', h: 'unit.h', min: 'unit.min' } as const;

/** The name of a unit that is a word and not a sign. */
export function unitWord(unit: Unit): string | undefined {
  return unit === 'turns' || unit === 'h' || unit === 'min' ? t(`${WORDS[unit]}.name`) : undefined;
}

const { t } = text;

/** The units to read and type in, by what is measured; kept on this device. */
export function UnitsPanel() {
  return (
    <details class="panel">
      <summary>
        {t('units.title')}{' '}
        <span class="soft">{UNIT_KINDS.map((kind) => suffixOf(chosenUnits.value[kind]).trim()).join(' · ')}</span>
      </summary>
      <div class="units">
        {UNIT_KINDS.map((kind) => (
          <label key={kind}>
            {t(`units.${kind}`)}
            <select
              value={chosenUnits.value[kind]}
              onChange={({ currentTarget: { value } }) => {
                const unit = UNIT_CHOICES[kind].find((one) => one === value);
                if (unit !== undefined) chooseUnit(kind, unit);
              }}
            >
              {UNIT_CHOICES[kind].map((unit) => (
                <option key={unit} value={unit}>
                  {suffixOf(unit).trim()}
                </option>
              ))}
            </select>
          </label>
        ))}
      </div>
    </details>
  );
}

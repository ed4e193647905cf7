import { useSignal } from '@preact/signals';
import { changeWorksheet, passSticker, setRoll, type Station } from '../state/station.ts';
import type { Worksheet } from '../state/worksheet.ts';
import { isSticker } from '../state/rejection.ts';
import { text } from '../text.ts';

const { t } = text;

interface Props {
  station: Station;
  /** with the next number of the roll where nobody typed another one */
  worksheet: Worksheet;
  isFaulty: boolean;
}

/** The number of the sticker that goes onto the car: the next one of the roll, unless another one is typed. */
export function StickerField({ station, worksheet, isFaulty }: Props) {
  const change = (changed: Partial<Worksheet>) =>
    void changeWorksheet(station, worksheet.claimId, (one) => ({ ...one, ...changed, refusal: undefined }));
  const next = station.roll.value?.next;
  const isNext = next !== undefined && worksheet.sticker === next;
  const rollId = next === undefined ? undefined : 'sticker-roll';
  const describedBy = isFaulty ? 'sticker-fault' : rollId;
  return (
    <div class="stack">
      <div>
        <label for="sticker">{t('decide.sticker')}</label>
        <input
          id="sticker"
          class="number"
          autocomplete="off"
          maxLength={12}
          value={worksheet.sticker}
          aria-invalid={isFaulty}
          aria-describedby={describedBy}
          onInput={(event) => change({ sticker: event.currentTarget.value, ownSticker: true })}
        />
        {isFaulty && (
          <p class="fault" id="sticker-fault">
            {t('hinders.sticker-form')}
          </p>
        )}
        {next !== undefined && (
          <p class="soft" id="sticker-roll">
            {t('roll.next', { next })}
          </p>
        )}
      </div>
      <div class="row">
        {isNext && (
          <button type="button" class="glove" onClick={() => passSticker(station, next)}>
            {t('roll.skip', { number: next })}
          </button>
        )}
        {next !== undefined && !isNext && (
          <button type="button" class="glove" onClick={() => change({ sticker: '', ownSticker: undefined })}>
            {t('roll.use', { number: next })}
          </button>
        )}
      </div>
      <RollSetter
        station={station}
        isSet={next !== undefined}
        onSet={() => change({ sticker: '', ownSticker: undefined })}
      />
    </div>
  );
}

/** Says where the roll of this device begins: once, and again with a new roll. */
function RollSetter({ station, isSet, onSet }: { station: Station; isSet: boolean; onSet(): void }) {
  const from = useSignal('');
  const isWrong = useSignal(false);
  const set = () => {
    const number = from.value.trim();
    isWrong.value = !isSticker(number) || !/\d/.test(number);
    if (isWrong.value) return;
    setRoll(station, number);
    from.value = '';
    onSet();
  };
  return (
    <details class="more">
      <summary>{t(isSet ? 'roll.other' : 'roll.set')}</summary>
      <div class="row by-number">
        <label for="roll-from">{t('roll.from')}</label>
        <input
          id="roll-from"
          class="number"
          autocomplete="off"
          maxLength={12}
          value={from.value}
          aria-invalid={isWrong.value}
          aria-describedby={isWrong.value ? 'roll-fault' : undefined}
          onInput={(event) => {
            from.value = event.currentTarget.value;
          }}
        />
        <button type="button" class="glove" onClick={set}>
          {t('roll.start')}
        </button>
      </div>
      {isWrong.value && (
        <p class="fault" id="roll-fault" role="alert">
          {t('roll.wrong')}
        </p>
      )}
    </details>
  );
}

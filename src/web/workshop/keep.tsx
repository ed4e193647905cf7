import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { call } from '../api/call.ts';
import {
  dropKeptCalculation,
  endKeptCalculationLink,
  keepCalculation,
  type KeptCalculation,
  shareKeptCalculation,
} from '../api/operations.ts';
import { text } from './text.ts';

const { t } = text;

interface Props {
  vehicleId: string;
  token: string;
  name: string;
  body: Record<string, unknown>;
  /** what this came from, where it was kept before */
  kept: KeptCalculation | undefined;
}

/** A body as text whatever the order of its places: the database has one of its own. */
const inOrder = (body: unknown): string =>
  JSON.stringify(body, (_, value: unknown) =>
    typeof value === 'object' && value !== null && !Array.isArray(value)
      ? Object.fromEntries(Object.entries(value).toSorted(([a], [b]) => (a < b ? -1 : 1)))
      : value,
  );

/** Keeping what was asked with the car, and the link that shows it to somebody else. */
export function Keep({ vehicleId, token, name, body, kept }: Props): JSX.Element {
  const [own, setOwn] = useState(kept);
  const [link, setLink] = useState<string | undefined>(undefined);
  const [isGone, setGone] = useState(false);
  const [isFailed, setFailed] = useState(false);
  const attempt = (act: () => Promise<void>): void => {
    setFailed(false);
    act().catch(() => setFailed(true));
  };
  const keep = async (): Promise<void> => {
    setOwn((await call(keepCalculation, { params: { vehicleId }, body: { name, body } }, { token })).body);
    setGone(false);
  };
  const isSame = own !== undefined && inOrder(own.body) === inOrder(body);
  return (
    <section class="panel stack no-print" aria-labelledby="keep">
      <h3 id="keep">{t('keep.title')}</h3>
      <p>{t('keep.says')}</p>
      {isSame ? (
        <Kept
          {...{ own, vehicleId, token, attempt }}
          now={(next, url) => {
            setOwn(next);
            setLink(url);
            setGone(next === undefined);
          }}
        />
      ) : (
        <div class="row">
          <button type="button" onClick={() => attempt(keep)}>
            {t('keep.go')}
          </button>
        </div>
      )}
      <div role="status" class="stack">
        {isSame && <p class="notice good">{t('keep.kept')}</p>}
        {isGone && <p class="notice">{t('keep.gone')}</p>}
        {isSame && link !== undefined && (
          <p class="notice good made-link">
            {t('keep.link')} <a href={link}>{link}</a>
          </p>
        )}
        {isFailed && <p class="notice bad">{t('keep.failed')}</p>}
      </div>
    </section>
  );
}

interface KeptProps extends Pick<Props, 'vehicleId' | 'token'> {
  own: KeptCalculation;
  attempt(act: () => Promise<void>): void;
  /** what it is from now on, with its link where one was just made */
  now(next: KeptCalculation | undefined, url?: string): void;
}

/** What can be done with one that is kept: its link, and taking it away. */
function Kept({ own, vehicleId, token, attempt, now }: KeptProps): JSX.Element {
  const params = { vehicleId, keptId: own.keptId };
  const share = async (): Promise<void> => {
    const { secret } = (await call(shareKeptCalculation, { params }, { token })).body;
    now({ ...own, isShared: true }, `${location.origin}/workshop#${secret}`);
  };
  const end = async (): Promise<void> => {
    await call(endKeptCalculationLink, { params }, { token });
    now({ ...own, isShared: false });
  };
  const drop = async (): Promise<void> => {
    await call(dropKeptCalculation, { params }, { token });
    now(undefined);
  };
  return (
    <div class="row">
      <button type="button" onClick={() => attempt(share)}>
        {own.isShared ? t('keep.share-again') : t('keep.share')}
      </button>
      {own.isShared && (
        <button type="button" onClick={() => attempt(end)}>
          {t('keep.end')}
        </button>
      )}
      <button type="button" onClick={() => attempt(drop)}>
        {t('keep.drop')}
      </button>
    </div>
  );
}

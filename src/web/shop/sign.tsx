import { useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { signShopAnswers } from '../api/operations.ts';
import { useGarage } from '../garage/context.ts';
import type { Session } from '../shared/session.ts';
import { words } from '../shared/words.ts';
import type { ShopWork } from './shop-sync.ts';
import { text } from './text.ts';

const { t } = text;

const KEPT = 'gridworthy.shop.signer';

type Told = { kind: 'good' | 'bad'; says: string };

/** Signing what was answered: by name, and the date is the server's. */
export function Sign({ work, session }: { work: ShopWork; session: Session }) {
  const { declaration, sync } = useGarage();
  const [name, setName] = useState(() => localStorage.getItem(KEPT) ?? '');
  const [told, setTold] = useState<Told | undefined>(undefined);
  const [isBusy, setBusy] = useState(false);
  const waits = declaration.unsent.value.length;
  // What was typed since is counted when it is saved.
  const unsigned = (work.car.value?.unsigned ?? 0) + (waits > 0 ? 1 : 0);
  const sign = async (): Promise<void> => {
    setBusy(true);
    localStorage.setItem(KEPT, name.trim());
    await sync.now();
    setTold(
      declaration.unsent.value.length > 0
        ? { kind: 'bad', says: t('sign.waits') }
        : await send(work, session, name.trim()),
    );
    setBusy(false);
  };
  return (
    <form
      class="panel stack no-print"
      aria-labelledby="sign"
      onSubmit={(event) => {
        event.preventDefault();
        if (name.trim() !== '') void sign();
      }}
    >
      <h2 id="sign" tabIndex={-1}>
        {t('sign.title')}
      </h2>
      <p>{t('sign.says')}</p>
      <label>
        {t('sign.who')}
        <input
          type="text"
          autoComplete="name"
          maxLength={80}
          required
          value={name}
          onInput={(event) => setName(event.currentTarget.value)}
        />
      </label>
      {unsigned === 0 ? (
        <p class="soft">{t('sign.nothing')}</p>
      ) : (
        <button type="submit" class="primary" disabled={isBusy}>
          {t('sign.act', { count: unsigned })}
        </button>
      )}
      <div role="status">{told !== undefined && <p class={`notice ${told.kind}`}>{told.says}</p>}</div>
    </form>
  );
}

/** Sends the signature for the version that is shown. */
async function send({ declaration, way }: ShopWork, session: Session, name: string): Promise<Told> {
  try {
    const params = { shopId: session.shopId ?? '', shopLinkId: declaration.entryId };
    const headers = { 'if-match': `"${declaration.base.value.rev}"`, 'idempotency-key': crypto.randomUUID() };
    await call(signShopAnswers, { params, headers, body: { name } }, { token: session.token });
    await way.pull(declaration);
    return { kind: 'good', says: t('sign.done') };
  } catch (error) {
    const says = whyNot(error);
    await way.pull(declaration).catch(() => undefined);
    return { kind: 'bad', says };
  }
}

function whyNot(error: unknown): string {
  if (!(error instanceof ApiProblem)) return words.t('network.none');
  return error.status === 412 ? t('sign.stale') : t('sign.failed', { why: error.message });
}

import { useEffect, useState } from 'preact/hooks';
import { call } from '../api/call.ts';
import { endShopLink, listShopLinks, makeShopLink, type ShopLink } from '../api/operations.ts';
import { useGarage } from './context.ts';
import type { FormView } from './kept/form.ts';
import { timeText } from './verdict/say.ts';
import { text } from './text.ts';

const { t } = text;

/** The shops that this entry was given to: what each has signed, a new link, and taking one back. */
export function Shops({ form }: { form: FormView }) {
  const { declaration } = useGarage();
  const [links, setLinks] = useState<readonly ShopLink[]>([]);
  const [url, setUrl] = useState<string | undefined>(undefined);
  const [failed, setFailed] = useState(false);
  const { token } = declaration.session;
  const params = { entryId: declaration.entryId };
  const load = async (): Promise<void> => setLinks((await call(listShopLinks, { params }, { token })).body.links);
  useEffect(() => {
    // Without a network there is nothing to give, and what was signed stands with the answers.
    void load().catch(() => undefined);
  }, [declaration]);
  if (declaration.isTyped) return null;
  const live = links.filter(({ state }) => state === 'open' || state === 'taken');
  const act = async (change: () => Promise<void>): Promise<void> => {
    setFailed(false);
    try {
      await change();
      await load();
    } catch {
      setFailed(true);
    }
  };
  const end = ({ shopLinkId }: ShopLink): Promise<void> =>
    act(async () => void (await call(endShopLink, { params: { ...params, shopLinkId } }, { token })));
  return (
    <details class="panel shops no-print">
      <summary>
        {t('shops.title')}
        {live.length > 0 && <span class="soft"> · {live.map(({ shop }) => shop).join(', ')}</span>}
      </summary>
      <div class="stack">
        <p>{t('shops.says')}</p>
        <ul class="stack plain">
          {live.map((link) => (
            <li key={link.shopLinkId} class="row spread">
              <Standing link={link} form={form} />
              <button type="button" onClick={() => void end(link)}>
                {t('shops.end')} <span class="unseen">{link.shop}</span>
              </button>
            </li>
          ))}
        </ul>
        <Give
          form={form}
          give={(body) =>
            void act(async () => {
              setUrl((await call(makeShopLink, { params, body }, { token })).body.url);
            })
          }
        />
        <Outcome url={url} failed={failed} />
      </div>
    </details>
  );
}

/** The link that was made, or that it was not. */
function Outcome({ url, failed }: { url: string | undefined; failed: boolean }) {
  return (
    <div role="status">
      {failed && <p class="notice bad">{t('shops.failed')}</p>}
      {url !== undefined && (
        <p class="notice good">
          {t('shops.made')} <a href={url}>{url}</a>
        </p>
      )}
    </div>
  );
}

/** What a shop has done so far. */
function Standing({ link, form }: { link: ShopLink; form: FormView }) {
  const { shop, state, areas, signatures, unsigned } = link;
  const names = areas.map((area) => form.areas.find((one) => one.area === area)?.label ?? area);
  const last = signatures.at(-1);
  const said =
    last === undefined
      ? t(state === 'open' ? 'shops.open' : 'shops.taken')
      : t('shops.signed', { name: last.name, time: timeText(last.signedAt, form.event.timeZone) });
  return (
    <p>
      <strong>{shop}</strong>: {names.length === 0 ? t('shops.all') : names.join(', ')}. {said}
      {unsigned > 0 && ` ${t('shops.unsigned', { count: unsigned })}`}
    </p>
  );
}

type Given = { shop: string; areas?: ShopLink['areas'][number][] };

/** A new link: for all of the car, or for the areas that are ticked. */
function Give({ form, give }: { form: FormView; give(body: Given): void }) {
  const [shop, setShop] = useState('');
  const [areas, setAreas] = useState<readonly string[]>([]);
  const send = (): void => {
    // the API names the same areas as the form
    const chosen = areas as ShopLink['areas'];
    give({ shop: shop.trim(), ...(chosen.length === 0 ? {} : { areas: [...chosen] }) });
    setShop('');
  };
  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        if (shop.trim() !== '') send();
      }}
    >
      <label>
        {t('shops.name')}
        <input
          type="text"
          maxLength={80}
          required
          value={shop}
          onInput={(event) => setShop(event.currentTarget.value)}
        />
      </label>
      <fieldset>
        <legend>{t('shops.areas')}</legend>
        <div class="options many">
          {form.areas.map(({ area, label }) => (
            <label key={area} class="option">
              <input
                type="checkbox"
                checked={areas.includes(area)}
                onChange={({ currentTarget: { checked } }) =>
                  setAreas(checked ? [...areas, area] : areas.filter((one) => one !== area))
                }
              />
              <span>{label}</span>
            </label>
          ))}
        </div>
      </fieldset>
      <button type="submit">{t('shops.make')}</button>
    </form>
  );
}

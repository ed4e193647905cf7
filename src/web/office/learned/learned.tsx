import { call } from '../../api/call.ts';
import { getLearned, type LearnedView } from '../../api/operations.ts';
import { currentLanguage, defineText } from '../../shared/text.ts';
import { showNumber } from '../../shared/units.ts';
import { Chart } from '../../workshop/chart.tsx';
import { type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Loaded, Panel, Table } from '../parts/panel.tsx';

/** Texts of what was learned, loaded with the part itself. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = text;

const percent = (share: number): number => Math.round(share * 1000) / 10;
const inWords = (value: number): string => showNumber(value, currentLanguage());
const shareOf = ({ count, of }: { count: number; of: number }) => ({
  count,
  of,
  share: inWords(of === 0 ? 0 : percent(count / of)),
});
const rangeOf = ({ low, high }: { low: number; high: number }) => ({
  low: inWords(percent(low)),
  high: inWords(percent(high)),
});

/** How good forecasts and choices were at events that are over, and which faults come again. */
export function Learned({ office }: { office: OfficeContext }) {
  const load = useLoad('learned', async (signal) => (await call(getLearned, {}, { token: office.token, signal })).body);
  return (
    <>
      <p>{t('intro')}</p>
      <Loaded of={load}>
        {(learned) => (
          <>
            <Looks looks={learned.looks} />
            <Wear wear={learned.wear} />
            <Repeated repeated={learned.repeated} />
          </>
        )}
      </Loaded>
      <p class="soft">{t('cannot')}</p>
    </>
  );
}

const TooFew = ({ isEnough }: { isEnough: boolean }) => (isEnough ? null : <p class="notice look">{t('too-few')}</p>);

function Looks({ looks }: { looks: LearnedView['looks'] }) {
  const { bins, chosen, others, notLooked, score, plainScore } = looks;
  if (chosen.of === 0) {
    return (
      <Panel title={t('looks')}>
        <p>{t('looks.none')}</p>
      </Panel>
    );
  }
  const most = percent(Math.max(...bins.map(({ chance, count, of }) => Math.max(chance, count / of))));
  return (
    <Panel title={t('looks')}>
      <TooFew isEnough={looks.isEnough} />
      <p>{t('looks.means')}</p>
      <Chart
        spec={{
          title: t('looks.chart'),
          says: t('looks.says', { count: bins.length }),
          x: t('looks.x'),
          y: t('looks.y'),
          series: [
            {
              name: t('line.same'),
              points: [
                { x: 0, y: 0 },
                { x: most, y: most },
              ],
              dash: 1,
            },
            {
              name: t('line.found'),
              points: bins.map(({ chance, count, of }) => ({ x: percent(chance), y: percent(count / of) })),
              band: bins.map(({ chance, low, high }) => ({
                x: percent(chance),
                low: percent(low),
                high: percent(high),
              })),
              dots: true,
            },
          ],
        }}
      />
      <ul>
        <li>{t('looks.chosen', shareOf(chosen))}</li>
        <li>{t('looks.others', shareOf(others))}</li>
        <li>{t('looks.not', { count: notLooked })}</li>
        <li>{t('looks.score', { score: inWords(score), plain: inWords(plainScore) })}</li>
      </ul>
    </Panel>
  );
}

function Wear({ wear }: { wear: LearnedView['wear'] }) {
  const { points, inside } = wear;
  if (points.length === 0) {
    return (
      <Panel title={t('wear')}>
        <p>{t('wear.none')}</p>
      </Panel>
    );
  }
  const all = points.flatMap(({ middle, measured }) => [middle, measured]);
  const [least, most] = [Math.min(...all), Math.max(...all)];
  return (
    <Panel title={t('wear')}>
      <TooFew isEnough={wear.isEnough} />
      <p>{t('wear.means')}</p>
      <p>{t('wear.inside', { ...shareOf(inside), ...rangeOf(inside) })}</p>
      <Chart
        spec={{
          title: t('wear.chart'),
          says: t('wear.says', { count: points.length }),
          x: t('wear.x'),
          y: t('wear.y'),
          series: [
            {
              name: t('line.same'),
              points: [
                { x: least, y: least },
                { x: most, y: most },
              ],
              dash: 1,
            },
            {
              name: t('line.found'),
              points: points.map(({ middle, measured }) => ({ x: middle, y: measured })),
              dots: true,
              isLoose: true,
            },
          ],
        }}
      />
    </Panel>
  );
}

function Repeated({ repeated }: { repeated: LearnedView['repeated'] }) {
  return (
    <Panel title={t('repeated')}>
      <p>{t('repeated.means')}</p>
      {repeated.length === 0 ? (
        <p>{t('repeated.none')}</p>
      ) : (
        <Table
          caption={t('repeated')}
          head={[
            t('repeated.what'),
            t('repeated.kind'),
            t('repeated.cars'),
            t('repeated.events'),
            t('repeated.here'),
            t('repeated.elsewhere'),
          ]}
        >
          {repeated.map(({ item, label, kind, cars, events, share, elsewhere }) => (
            <tr key={`${item} ${kind}`}>
              <th scope="row">{label}</th>
              <td>{kind}</td>
              <td class="number">{cars}</td>
              <td class="number">{events}</td>
              <td>{t('count-range', { ...shareOf(share), ...rangeOf(share) })}</td>
              <td>{t('count-of', shareOf(elsewhere))}</td>
            </tr>
          ))}
        </Table>
      )}
    </Panel>
  );
}

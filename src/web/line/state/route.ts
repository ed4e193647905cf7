import { signal } from '@preact/signals';

/** Where the page is. It is in the address, so that a reload and the phone's own "back" do what one expects. */
export type Route = { view: 'line' } | { view: 'car'; claimId: string } | { view: 'hold' } | { view: 'conditions' };

export const route = signal<Route>(readRoute());
export const chosenEvent = signal<string | undefined>(new URLSearchParams(location.search).get('event') ?? undefined);

function readRoute(): Route {
  const search = new URLSearchParams(location.search);
  const claimId = search.get('claim');
  if (claimId !== null) return { view: 'car', claimId };
  const view = search.get('view');
  return view === 'hold' || view === 'conditions' ? { view } : { view: 'line' };
}

/** Goes to another view. */
export function go(to: Route): void {
  route.value = to;
  history.pushState(null, '', addressOf(to));
  scrollTo(0, 0);
}

export function chooseEvent(eventId: string | undefined): void {
  chosenEvent.value = eventId;
  route.value = { view: 'line' };
  history.pushState(null, '', addressOf(route.value));
}

function addressOf(to: Route): string {
  const search = new URLSearchParams();
  if (chosenEvent.value !== undefined) search.set('event', chosenEvent.value);
  if (to.view === 'car') search.set('claim', to.claimId);
  else if (to.view !== 'line') search.set('view', to.view);
  return search.size === 0 ? location.pathname : `${location.pathname}?${search.toString()}`;
}

addEventListener('popstate', () => {
  route.value = readRoute();
  chosenEvent.value = new URLSearchParams(location.search).get('event') ?? undefined;
});

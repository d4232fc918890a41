/** The address after the hash decides the page: #/, #/sensors, #/live/<athlete>, #/history/<athlete>, #/trial/<trial>. */
export type Route =
  { page: 'roster' } | { page: 'sensors' } | { page: 'live' | 'history' | 'trial'; id: string } | { page: 'unknown' };

export function readRoute(hash: string): Route {
  const [page = '', id = '', ...rest] = hash.replace(/^#?\/?/, '').split('/');
  if (rest.length > 0) return { page: 'unknown' };
  if (id === '') {
    if (page === '') return { page: 'roster' };
    return page === 'sensors' ? { page } : { page: 'unknown' };
  }
  if (page !== 'live' && page !== 'history' && page !== 'trial') return { page: 'unknown' };
  try {
    return { page, id: decodeURIComponent(id) };
  } catch {
    return { page: 'unknown' };
  }
}

export function linkTo(page: 'live' | 'history' | 'trial', id: string): string {
  return `#/${page}/${encodeURIComponent(id)}`;
}

class Router {
  route = $state.raw<Route>(readRoute(location.hash));

  constructor() {
    window.addEventListener('hashchange', () => {
      this.route = readRoute(location.hash);
      window.scrollTo(0, 0);
    });
  }
}

export const router = new Router();

/**
 * The address after the hash decides the page: #/, #/sensors, #/live/<athlete>, #/history/<athlete>, #/return/<athlete>,
 * #/report/<athlete>/<episode>, #/trial/<trial>, #/consent/<athlete>, #/import/<athlete>, #/re-analysis, #/account,
 * #/accounts, #/audit, #/retention.
 */
export type Route =
  | { page: 'roster' }
  | { page: PageOfNone }
  | { page: PageOfOne; id: string }
  | { page: 'report'; id: string; episodeId: string }
  | { page: 'unknown' };

/** The pages of accounts, consent and privacy. */
export type AccessRoute = { page: 'account' | 'accounts' | 'audit' | 'retention' } | { page: 'consent'; id: string };

const ACCESS_PAGES: ReadonlySet<string> = new Set(['account', 'accounts', 'audit', 'retention', 'consent']);

export function isAccessRoute(route: Route): route is AccessRoute {
  return ACCESS_PAGES.has(route.page);
}

const PAGES_OF_NONE = ['sensors', 're-analysis', 'account', 'accounts', 'audit', 'retention'] as const;
type PageOfNone = (typeof PAGES_OF_NONE)[number];
const PAGES_OF_ONE = ['live', 'history', 'return', 'trial', 'consent', 'import'] as const;
type PageOfOne = (typeof PAGES_OF_ONE)[number];

export function readRoute(hash: string): Route {
  const [page = '', id = '', episodeId = '', ...rest] = hash.replace(/^#?\/?/, '').split('/');
  if (rest.length > 0) return { page: 'unknown' };
  if (id === '') {
    if (page === '') return { page: 'roster' };
    return { page: PAGES_OF_NONE.find((each) => each === page) ?? 'unknown' };
  }
  try {
    if (page === 'report' && episodeId !== '') {
      return { page, id: decodeURIComponent(id), episodeId: decodeURIComponent(episodeId) };
    }
    const ofOne = PAGES_OF_ONE.find((each) => each === page);
    if (ofOne === undefined || episodeId !== '') return { page: 'unknown' };
    return { page: ofOne, id: decodeURIComponent(id) };
  } catch {
    return { page: 'unknown' };
  }
}

export const RE_ANALYSIS_LINK = '#/re-analysis';

export function linkTo(page: PageOfOne, id: string): string {
  return `#/${page}/${encodeURIComponent(id)}`;
}

export function linkToReport(athleteId: string, episodeId: string): string {
  return `#/report/${encodeURIComponent(athleteId)}/${encodeURIComponent(episodeId)}`;
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

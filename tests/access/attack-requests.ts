/** A good request for every route that takes one, as the start of bad ones. `:id` and the like are filled in by the test. */
export interface GoodRequest {
  /** Of the query. */
  query?: Record<string, string>;
  body?: Record<string, unknown>;
}

const METRIC = 'swingSideDropDeg';
const at = 1_790_000_000_000;
const DIFFERENCE = { task: 'run', metric: METRIC };
const mapping = {
  ...{ delimiter: ',', decimal: '.', firstLine: 2, time: { column: 0, unit: 's' } },
  ...{ accel: { columns: [1, 2, 3], unit: 'g' }, gyro: { columns: [4, 5, 6], unit: 'deg/s' } },
};
const TABLE = 't,ax,ay,az,gx,gy,gz\n0,0,0,1,0,0,0\n0.01,0,0,1,0,0,0\n';
const EPISODE = '/api/athletes/:id/return-episodes/:episodeId';

/** By method and route. @param ids of what the person who asks may touch */
export function goodRequests(ids: { athleteId: string; sessionId: string; otherSessionId: string }) {
  const { athleteId, sessionId, otherSessionId } = ids;
  const requests: Record<string, GoodRequest> = {
    'POST /api/athletes': { body: { name: 'Nora', notes: 'n' } },
    'PATCH /api/athletes/:id': { body: { name: 'Nora', notes: 'n' } },
    'DELETE /api/athletes/:id': { body: { name: 'nobody of that name' } },
    'GET /api/athletes/:id/history': { query: { metric: METRIC } },
    'GET /api/athletes/:id/ladder': { query: { metric: METRIC } },
    'GET /api/athletes/:id/session-history': { query: DIFFERENCE },
    'GET /api/athletes/:id/comparison': { query: { ...DIFFERENCE, from: sessionId, to: otherSessionId } },
    'POST /api/athletes/:id/annotations': { body: { kind: 'note', atUtcMs: at, authorName: 'A', text: 't' } },
    'PATCH /api/athletes/:id/annotations/:annotationId': { body: { authorName: 'A', text: 't' } },
    'POST /api/athletes/:id/return-episodes': {
      body: { onsetUtcMs: at, affectedSide: 'left', question: 'q', baseline: 'before the injury' },
    },
    [`PATCH ${EPISODE}`]: { body: { question: 'q' } },
    [`POST ${EPISODE}/criteria`]: { body: { ...DIFFERENCE, limit: 2, sessionsInARow: 2 } },
    [`PATCH ${EPISODE}/criteria/:criterionId`]: { body: DIFFERENCE },
    [`POST ${EPISODE}/decisions`]: { body: { deciderName: 'D', decision: 'd', reason: 'r' } },
    'POST /api/athletes/:id/consents': {
      body: { purpose: 'health to coach', givenByName: 'N', guardianOf: 'mother' },
    },
    'POST /api/athletes/:id/consents/:consentId/withdrawal': { body: { byName: 'N' } },
    'POST /api/athletes/:id/imports/csv': {
      body: { task: 'walk', startedUtcMs: at, sensors: [{ place: 'pelvis', fileName: 'f', text: TABLE, mapping }] },
    },
    'POST /api/athletes/:id/imports/motion-bids': { query: { fileName: 'f.tar', task: 'walk', startedUtcMs: `${at}` } },
    'POST /api/import/preview': { body: { name: 'f.csv', text: TABLE, mapping } },
    'PUT /api/sensors/:deviceId': { body: { athleteId, place: 'pelvis' } },
    'POST /api/pairing': { body: { deviceId: 'some-pelvis', code: 'ABCD-EFGH' } },
    'POST /api/sessions': { body: { athleteId } },
    'POST /api/sessions/:id/trials': { body: { task: 'walk' } },
    'PATCH /api/trials/:id': { body: { tags: ['t'], note: 'n' } },
    'POST /api/re-analysis': { body: { scope: 'outdated' } },
    'POST /api/sign-in': { body: { login: 'nobody', password: 'nothing at all' } },
    'POST /api/me/password': { body: { password: 'nothing at all', newPassword: 'nothing whatever' } },
    'GET /api/audit': { query: { athlete: athleteId, before: '1000000' } },
    'POST /api/accounts': { body: { login: 'new-login', name: 'N', roles: ['coach'], athleteId } },
    'PATCH /api/accounts/:id': { body: { name: 'N', roles: ['coach'] } },
    'PUT /api/retention': { body: { months: null } },
  };
  return requests;
}

/** The same value with one text in it replaced, once for each. A list of texts counts as its texts. */
export function withEachTextAs(value: unknown, text: string): unknown[] {
  if (typeof value === 'string') return [text];
  if (Array.isArray(value))
    return value.flatMap((item, i) => withEachTextAs(item, text).map((changed) => value.with(i, changed)));
  if (value === null || typeof value !== 'object') return [];
  return Object.entries(value).flatMap(([key, item]) =>
    withEachTextAs(item, text).map((changed) => ({ ...value, [key]: changed })),
  );
}

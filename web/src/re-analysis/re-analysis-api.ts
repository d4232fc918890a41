/** What the page about analysing stored trials again asks of the server. */
import type { ReAnalysisScope, ReAnalysisView } from '@ambipede/shared';
import { request } from '../api.ts';

const PATH = '/api/re-analysis';

export const reAnalysisApi = {
  view: () => request<ReAnalysisView>('GET', PATH),
  start: (scope: ReAnalysisScope) => request<ReAnalysisView>('POST', PATH, { scope }),
  cancel: () => request<ReAnalysisView>('POST', `${PATH}/cancel`),
};

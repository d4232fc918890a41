/** What the pages of a return episode ask of the server. */
import type {
  NewReturnCriterion,
  NewReturnDecision,
  NewReturnEpisode,
  ReturnCriterion,
  ReturnCriterionChange,
  ReturnDecision,
  ReturnEpisode,
  ReturnEpisodeChange,
  ReturnEpisodeView,
} from '@ambipede/shared';
import { request } from '../api.ts';

const list = (athleteId: string): string => `/api/athletes/${encodeURIComponent(athleteId)}/return-episodes`;
const one = ({ athleteId, id }: EpisodeKey): string => `${list(athleteId)}/${encodeURIComponent(id)}`;
const criterion = (key: EpisodeKey, id: string): string => `${one(key)}/criteria/${encodeURIComponent(id)}`;

export type EpisodeKey = Pick<ReturnEpisode, 'athleteId' | 'id'>;

export const returnApi = {
  episodes: (athleteId: string) => request<ReturnEpisode[]>('GET', list(athleteId)),
  add: (athleteId: string, episode: NewReturnEpisode) => request<ReturnEpisode>('POST', list(athleteId), episode),
  episode: (key: EpisodeKey) => request<ReturnEpisodeView>('GET', one(key)),
  change: (key: EpisodeKey, change: ReturnEpisodeChange) => request<ReturnEpisode>('PATCH', one(key), change),
  addCriterion: (key: EpisodeKey, added: NewReturnCriterion) =>
    request<ReturnCriterion>('POST', `${one(key)}/criteria`, added),
  changeCriterion: (key: EpisodeKey, id: string, change: ReturnCriterionChange) =>
    request<ReturnCriterion>('PATCH', criterion(key, id), change),
  removeCriterion: (key: EpisodeKey, id: string) => request<{ id: string }>('DELETE', criterion(key, id)),
  decide: (key: EpisodeKey, decision: NewReturnDecision) =>
    request<ReturnDecision>('POST', `${one(key)}/decisions`, decision),
};

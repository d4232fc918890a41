/**
 * Two sessions of an athlete held against each other, in one task and metric.
 *
 *   GET /api/athletes/:id/comparison?task=T&metric=K&from=SESSION&to=SESSION   SessionComparison
 */
import type { HistoryDetectableChange, SessionDifference, StanceRung } from './history.ts';
import type { StanceMetricKey } from './metrics.ts';

export interface SessionComparison {
  athleteId: string;
  task: StanceRung;
  metric: StanceMetricKey;
  /** Both are of this version. */
  version: string;
  from: SessionDifference;
  to: SessionDifference;
  /** Difference of `to` minus that of `from`, in the metric's unit. */
  change: number;
  ci95: [number, number];
  /** One of the two has too few stances a side: nothing is concluded, and what follows is null where it concludes. */
  tooFewStances: boolean;
  /** The change is more than the scatter of the stances. */
  excludesZero: boolean | null;
  detectableChange: HistoryDetectableChange;
  /** The change is more than noise from day to day; null where no detectable change is known. */
  beyondDetectable: boolean | null;
  /** Changes up to this could come from how the sensors sat on the two days (95 %); null when not known. */
  placementUncertainty: number | null;
  couldBePlacement: boolean | null;
}

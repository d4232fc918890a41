/** What the synthetic athlete does, in order. Between tasks that need it, the athlete stands. */
export type Side = 'left' | 'right';

export interface CurveOptions {
  direction: Side;
  radiusM: number;
  /** Seconds of the bout before the curve, and in it. */
  afterS: number;
  seconds: number;
}

export type ScriptStep =
  /** Back to a wall: own sway about the profile's reference posture. */
  | { kind: 'reference_stand'; seconds: number }
  /** `seconds` for all bows together. */
  | { kind: 'forward_bow'; seconds: number; count?: number }
  /** Free quiet stand with the resting lean, marked `stand`. */
  | { kind: 'stand'; seconds: number }
  /** The same without a mark. */
  | { kind: 'pause'; seconds: number }
  | {
      kind: 'walk';
      seconds: number;
      cadencePerMin: number;
      speedMps?: number;
      /** Step time after the sore side's contact as a share of the mean, below 1; the trunk leans over it. */
      limp?: { side: Side; stepTimeShare: number; extraLeanDeg: number };
      curve?: CurveOptions;
    }
  | {
      kind: 'run';
      seconds: number;
      cadencePerMin: number;
      speedMps: number;
      /** Instead of the athlete's usual contact time at that speed. */
      contactTimeS?: number;
      curve?: CurveOptions;
    }
  /** From standing, `steps` contacts ending with the take-off, flight, landing, a few steps to a stop. */
  | {
      kind: 'run-up';
      steps: number;
      topSpeedMps: number;
      cadencePerMin?: number;
      takeOff?: { side: Side; flightS: number; landing: Side | 'both' };
    }
  /** A few steps to gather speed, then bounding from mark to mark: long flights, `lengthsM` apart, no two alike. */
  | { kind: 'strides'; speedMps: number; lengthsM: number[]; contactTimeS?: number }
  /**
   * On one foot for each of `holdsS` in turn. Between two holds the balance is lost and the other foot comes down early;
   * after the last it comes down on purpose, unless `fallsAtEnd`.
   */
  | { kind: 'single-leg-stand'; side: Side; holdsS: number[]; fallsAtEnd?: boolean }
  /** Half a turn on both feet, on the ground or in the air. */
  | { kind: 'half-turn'; direction: Side; flightS?: number }
  /** From both feet up, and down on one or both. */
  | { kind: 'jump'; flightS: number; landing: Side | 'both' };

/** Lead-in, standing, walking and run-ups: about 100 s. */
export function demoScript(runUps = 2): ScriptStep[] {
  const script: ScriptStep[] = [
    { kind: 'pause', seconds: 2 },
    { kind: 'reference_stand', seconds: 6 },
    { kind: 'pause', seconds: 1.5 },
    { kind: 'forward_bow', seconds: 12 },
    { kind: 'pause', seconds: 1 },
    { kind: 'stand', seconds: 8 },
    { kind: 'pause', seconds: 1 },
    { kind: 'walk', seconds: 30, cadencePerMin: 108 },
    { kind: 'pause', seconds: 3 },
  ];
  for (let k = 0; k < runUps; k++) {
    const takeOff = { side: k % 2 === 0 ? 'left' : 'right', flightS: 0.45, landing: 'both' } as const;
    script.push({ kind: 'run-up', steps: 15, topSpeedMps: 6, takeOff }, { kind: 'pause', seconds: 4 });
  }
  return script;
}

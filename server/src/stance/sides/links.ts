/**
 * How each contact follows on the one before it: as the next step of the other foot, or not known how. What tells is the
 * time between them against the steps around, lost samples, turning on the spot, and jumps.
 */

export const LINKS = {
  /** Two contacts of one foot in a row, although the time between them fits one step. */
  repeatProbability: 0.003,
  /** Times between contacts, as shares of the usual step, that fit one step; at the inner ones without doubt. */
  fits: { from: 0.6, surelyFrom: 0.75, surelyTo: 1.3, to: 1.55 },
  /** Without steps around: seconds, and how sure that is. */
  stepS: { min: 0.2, max: 1.3 },
  repeatUnknown: 0.1,
  /** Steps on each side that make the usual step time. */
  usualOver: 3,
  /** Where samples were lost in between, a step may hide there: whole steps up to so many are counted. */
  hiddenStepsMax: 2,
  repeatPerHidden: 0.04,
  /** Turning faster than this for a whole step, rad/s: a U-turn, whose steps are weak and out of order. */
  turning: { from: 0.8, full: 1.6, repeat: 0.1, trustMin: 0.3 },
  /** A flight this long, s, and so much longer than the others around is a jump; a bound leads to the next one. */
  jump: { flightMinS: 0.3, flightRatio: 1.8, boundFlightMinS: 0.25, boundContactMaxS: 0.35 },
  /** Of the landings after a jump so many are on both feet, as far as is known. */
  bothFeetProbability: 0.5,
} as const;

const NO_KNOWLEDGE = 0.5;

export interface StepFacts {
  timesS: readonly number[];
  /** Samples were lost between this contact and the one before. */
  afterGap: readonly boolean[];
  /** Mean rate about the vertical around the contact, rad/s. */
  turnRates: readonly number[];
  /** Landings after a jump, perhaps on both feet. */
  landings: readonly boolean[];
}

export interface Link {
  /** The step after the one before, with nothing in between: they share a bout. */
  continues: boolean;
  /** Probability of the same foot as the one before. */
  repeat: number;
}

export function linksOf(facts: StepFacts): Link[] {
  const { timesS, afterGap, turnRates, landings } = facts;
  return timesS.map((tS, i) => {
    if (i === 0) return { continues: false, repeat: NO_KNOWLEDGE };
    const link = linkByTime(tS - timesS[i - 1]!, usualStepTime(timesS, i), afterGap[i]!);
    const turn = Math.max(turningShare(turnRates[i - 1]!), turningShare(turnRates[i]!));
    let repeat = mix(link.repeat, Math.max(link.repeat, LINKS.turning.repeat), turn);
    // After both feet either may come first.
    if (landings[i - 1]) repeat = mix(repeat, NO_KNOWLEDGE, LINKS.bothFeetProbability);
    return { continues: link.continues, repeat };
  });
}

function linkByTime(intervalS: number, usualS: number, isAfterGap: boolean): Link {
  const { fits, stepS, repeatProbability } = LINKS;
  if (Number.isNaN(usualS)) {
    const continues = intervalS >= stepS.min && intervalS <= stepS.max && !isAfterGap;
    return { continues, repeat: continues ? LINKS.repeatUnknown : NO_KNOWLEDGE };
  }
  const share = intervalS / usualS;
  if (intervalS >= stepS.min && intervalS <= stepS.max && share > fits.from && share < fits.to) {
    const doubt = Math.max(
      (fits.surelyFrom - share) / (fits.surelyFrom - fits.from),
      (share - fits.surelyTo) / (fits.to - fits.surelyTo),
      0,
    );
    return { continues: true, repeat: mix(repeatProbability, NO_KNOWLEDGE, doubt) };
  }
  const steps = Math.round(share);
  const hidden = steps - 1;
  if (!isAfterGap || hidden < 1 || hidden > LINKS.hiddenStepsMax) return { continues: false, repeat: NO_KNOWLEDGE };
  // A gap does not stop the feet: they went on alternating in it. Half way between two counts says nothing.
  const off = Math.min(1, Math.abs(share - steps) / 0.5);
  const odd = mix(repeatProbability + hidden * LINKS.repeatPerHidden, NO_KNOWLEDGE, off ** 2);
  return { continues: false, repeat: hidden % 2 === 1 ? 1 - odd : odd };
}

/**
 * Median of half the times over two steps, which a limp does not disturb, of the steps before and after this one; NaN
 * where there are none.
 */
function usualStepTime(timesS: readonly number[], i: number): number {
  const halves: number[] = [];
  for (let k = 1; k <= LINKS.usualOver; k += 1) {
    insertHalf(halves, timesS, i - 2 - k);
    insertHalf(halves, timesS, i - 1 + k);
  }
  if (halves.length === 0) return NaN;
  const middle = halves.length >> 1;
  return halves.length % 2 === 1 ? halves[middle]! : (halves[middle - 1]! + halves[middle]!) / 2;
}

/** Half the time over the two steps from `from`, into its place in the order of size; nothing where they are not there. */
function insertHalf(halves: number[], timesS: readonly number[], from: number): void {
  if (from < 0 || from + 2 >= timesS.length) return;
  const half = (timesS[from + 2]! - timesS[from]!) / 2;
  let place = halves.length;
  halves.push(half);
  for (; place > 0 && halves[place - 1]! > half; place -= 1) halves[place] = halves[place - 1]!;
  halves[place] = half;
}

/** How much evidence read in a turn on the spot counts. */
export function trustIn(turnRate: number): number {
  return mix(1, LINKS.turning.trustMin, turningShare(turnRate));
}

function turningShare(rate: number): number {
  const { from, full } = LINKS.turning;
  return Math.min(1, Math.max(0, (Math.abs(rate) - from) / (full - from)));
}

function mix(a: number, b: number, share: number): number {
  return a + (b - a) * share;
}

/** Of each contact: the flight before it, how long the foot stayed, and the flight after; NaN where not seen. */
export interface Flights {
  beforeS: number;
  contactS: number;
  afterS: number;
}

/** Which contacts are landings after a jump. In bounding and hopping on, the next jump follows at once. */
export function landingsOf(flights: readonly Flights[]): boolean[] {
  const { flightMinS, flightRatio, boundFlightMinS, boundContactMaxS } = LINKS.jump;
  const known = new Float64Array(flights.map((f) => f.beforeS).filter((s) => !Number.isNaN(s))).sort();
  const usual = known.length < 2 ? 0 : known[(known.length - 1) >> 1]!;
  return flights.map((f) => {
    if (!(f.beforeS >= flightMinS && f.beforeS >= flightRatio * usual)) return false;
    return !(f.contactS <= boundContactMaxS && f.afterS >= boundFlightMinS);
  });
}

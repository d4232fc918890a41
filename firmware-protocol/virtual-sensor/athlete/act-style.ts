/** How an athlete stands on one leg, turns on the spot and jumps. Ranges are from memory (M) unless marked otherwise. */
import type { PerSide } from './profile.ts';
import { Random } from './random.ts';
import type { Side } from './script.ts';

export interface SingleLegStyle {
  /** Of the swing side against level while standing on that foot: + lift, - drop. */
  swingSideHeightDeg: PerSide;
  leanToStanceDeg: PerSide;
  /** Way of the centre of mass from between the feet to over the standing one, and the time it takes. */
  shiftM: PerSide;
  shiftS: number;
  /** When in the shift the other foot leaves the ground, as a share of its time. */
  liftShare: number;
  /** One standard deviation of the tilts about their mean, and of the pelvis's place. */
  swayDeg: PerSide;
  swayM: number;
  /** Quick tilts that catch the balance, and how far the trunk tips in one. */
  correctionsPerMin: PerSide;
  correctionDeg: number;
}

export interface HalfTurnStyle {
  /** Which segment goes first; by how much the chest is then apart from the pelvis, and how far it comes back past it. */
  leads: { left: 'pelvis' | 'chest'; right: 'pelvis' | 'chest' };
  separationOutDeg: PerSide;
  separationBackDeg: PerSide;
  /** Largest lean into the turn; of the pelvis, a share of it. */
  leanDeg: PerSide;
  pelvisLeanShare: number;
  seconds: PerSide;
  /** When in its time half of the turn is done. */
  halfwayShare: number;
  /** Swinging from foot to foot after the turn: its size and how long it takes to be gone. */
  swingM: number;
  settleS: PerSide;
}

export interface JumpStyle {
  crouchM: number;
  landingDepthM: number;
  /** Time to sink that far, against a push that is as large early as late. */
  landingShare: number;
  /** Twist of the pelvis on landing, away from the landing foot, and of the chest. */
  twistDeg: PerSide;
  trunkTwistDeg: PerSide;
  /** Tilt after a touch with that foot. */
  dropDeg: PerSide;
  leanDeg: PerSide;
  settleS: number;
}

export interface ActStyles {
  singleLeg: SingleLegStyle;
  halfTurn: HalfTurnStyle;
  jump: JumpStyle;
}

/** Numbers of their own, so that what is drawn here leaves the gaits of a seed as they are. */
export function drawActStyles(seed: number): ActStyles {
  const r = new Random(seed, 'acts');
  const sides = (draw: () => number): PerSide => ({ left: draw(), right: draw() });
  const leads = (): 'pelvis' | 'chest' => (r.uniform() < 0.7 ? 'pelvis' : 'chest');
  return {
    singleLeg: {
      // Youdas et al. 2007 (90 healthy): pelvis on femur 83 +- 3 deg, so a few degrees either way between people.
      swingSideHeightDeg: sides(() => r.between(-6, 5)),
      leanToStanceDeg: sides(() => r.between(-0.5, 6)),
      shiftM: sides(() => r.between(0.06, 0.1)),
      shiftS: r.between(0.6, 1),
      liftShare: r.between(0.75, 1.1),
      swayDeg: sides(() => r.between(0.25, 0.7)),
      swayM: r.between(0.002, 0.006),
      correctionsPerMin: sides(() => r.between(0, 14)),
      correctionDeg: r.between(3, 6),
    },
    halfTurn: {
      leads: { left: leads(), right: leads() },
      separationOutDeg: sides(() => r.between(12, 30)),
      separationBackDeg: sides(() => r.between(3, 9)),
      leanDeg: sides(() => r.between(2, 9)),
      pelvisLeanShare: r.between(0.1, 0.5),
      seconds: sides(() => r.between(0.7, 1.5)),
      halfwayShare: r.between(0.42, 0.56),
      swingM: r.between(0.01, 0.025),
      settleS: sides(() => r.between(0.5, 1.2)),
    },
    jump: {
      crouchM: r.between(0.18, 0.28),
      landingDepthM: r.between(0.12, 0.22),
      landingShare: r.between(1, 1.15),
      twistDeg: sides(() => r.between(3, 12)),
      trunkTwistDeg: sides(() => r.between(2, 9)),
      dropDeg: sides(() => r.between(1, 6)),
      leanDeg: sides(() => r.between(0, 6)),
      settleS: r.between(0.6, 1.2),
    },
  };
}

/** The same on both sides. */
export function evenActStyles(styles: ActStyles): ActStyles {
  const even = (pair: PerSide): PerSide => {
    const mean = (pair.left + pair.right) / 2;
    return { left: mean, right: mean };
  };
  const each = <T extends object>(style: T): T =>
    Object.fromEntries(
      Object.entries(style).map(([key, value]) => [key, isPair(value) ? even(value) : value]),
    ) as unknown as T;
  const { left } = styles.halfTurn.leads;
  return {
    singleLeg: each(styles.singleLeg),
    halfTurn: { ...each(styles.halfTurn), leads: { left, right: left } },
    jump: each(styles.jump),
  };
}

function isPair(value: unknown): value is PerSide {
  return typeof value === 'object' && value !== null && typeof (value as Record<Side, unknown>).left === 'number';
}

/**
 * Ground reaction forces per unit of mass, and the motion of the centre of mass that follows from them.
 *
 * Each contact pushes with its own shape: vertical = shape * (A + B * (2 tau - 1)); A and B are solved for, so that
 * forces and gravity together bring the centre of mass from each planned node to the next exactly. Horizontally a
 * braking-then-propelling wave is given and the net push is solved for. What moves the body is always the force.
 */
import type { AthleteProfile, GaitStyle } from './profile.ts';
import { GRAVITY_MPS2, smoothStep, weightShiftEnd, type Bout, type PlannedContact } from './plan.ts';

/** Everything in the world frame (X forward at the start, Y up, Z right), on a grid of `dt`. */
export interface Motion {
  dt: number;
  count: number;
  /** Force per unit of mass from the ground, m/s^2; standing still it is (0, g, 0). */
  forceX: Float64Array;
  forceY: Float64Array;
  forceZ: Float64Array;
  velocityX: Float64Array;
  velocityY: Float64Array;
  velocityZ: Float64Array;
  /** Height is against upright standing. */
  x: Float64Array;
  y: Float64Array;
  z: Float64Array;
}

const LEG_M = 0.9;
const LANDING_PULSE_S = 0.24;

interface SampledShape {
  first: number;
  /** Vertical shape, the same tilted in time, the net horizontal push, and the brake-and-propel wave. */
  base: Float64Array;
  tilted: Float64Array;
  push: Float64Array;
  wave: Float64Array;
}

/** Vertical shape of an ordinary contact at `tau` of 0..1: a half-sine, two-humped in walking, plus the heel's impact. */
export function verticalShape(
  tau: number,
  durationS: number,
  hump: number,
  impact: { share: number; atS: number; halfWidthS: number },
): number {
  if (tau <= 0 || tau >= 1) return 0;
  const main = Math.sin(Math.PI * tau) + hump * Math.sin(3 * Math.PI * tau);
  const offset = (tau * durationS - impact.atS) / impact.halfWidthS;
  return main + (Math.abs(offset) < 1 ? (impact.share * (1 + Math.cos(Math.PI * offset))) / 2 : 0);
}

/** @param addForces what else pushes, before the body is moved. */
export function moveBody(
  bouts: readonly Bout[],
  profile: AthleteProfile,
  dt: number,
  count: number,
  addForces: (m: Motion) => void = () => {},
): Motion {
  const make = () => new Float64Array(count);
  const m: Motion = {
    dt,
    count,
    forceX: make(),
    forceY: new Float64Array(count).fill(GRAVITY_MPS2),
    forceZ: make(),
    velocityX: make(),
    velocityY: make(),
    velocityZ: make(),
    x: make(),
    y: make(),
    z: make(),
  };
  for (const bout of bouts) pushOff(bout, profile, m);
  addForces(m);
  for (let k = 1; k < count; k++) {
    advance(m.forceX, m.velocityX, m.x, k, dt, 0);
    advance(m.forceY, m.velocityY, m.y, k, dt, GRAVITY_MPS2);
    advance(m.forceZ, m.velocityZ, m.z, k, dt, 0);
  }
  return m;
}

/** Exact for a force that is straight between grid points. */
function advance(force: Float64Array, v: Float64Array, p: Float64Array, k: number, dt: number, gravity: number): void {
  const a0 = force[k - 1]! - gravity;
  const a1 = force[k]! - gravity;
  v[k] = v[k - 1]! + ((a0 + a1) * dt) / 2;
  p[k] = p[k - 1]! + v[k - 1]! * dt + ((2 * a0 + a1) * dt * dt) / 6;
}

function pushOff(bout: Bout, profile: AthleteProfile, m: Motion): void {
  const style = profile[bout.contacts[0]!.gait];
  const { dt } = m;
  const edges = bout.nodes.map((node) => Math.round(node.tS / dt));
  const shapes = bout.contacts.map((contact, k) => sampleShape(contact, bout.contacts[k - 1], style, dt));
  const n = shapes.length;

  // What of the weight the standing feet carry at the two ends of the bout.
  const standing = new Float64Array(edges[n]! - edges[0]! + 1);
  const last = bout.contacts[n - 1]!;
  for (let i = 0; i < standing.length; i++) {
    const t = (edges[0]! + i) * dt;
    const leaving = 1 - smoothStep((t - bout.startS) / (weightShiftEnd(bout.contacts[0]!) - bout.startS));
    const arriving = smoothStep((t - last.icS) / (last.toS - last.icS));
    standing[i] = GRAVITY_MPS2 * (leaving + arriving);
  }

  const vertical = solveVertical(bout, shapes, standing, edges, dt);
  const along = bout.contacts.map((contact, k) => {
    const node = bout.nodes[k]!;
    const next = bout.nodes[k + 1]!;
    const heading = (node.headingRad + next.headingRad) / 2;
    const wave = style.brakingForceBw * GRAVITY_MPS2 * contact.vigour;
    return { x: wave * Math.cos(heading), z: -wave * Math.sin(heading) };
  });
  const velocity = bout.nodes.map((node) => {
    const c = Math.cos(node.headingRad);
    const s = Math.sin(node.headingRad);
    return { x: node.forwardMps * c + node.sidewaysMps * s, z: -node.forwardMps * s + node.sidewaysMps * c };
  });
  const pushX = solveHorizontal(
    shapes,
    along.map((w) => w.x),
    velocity.map((v) => v.x),
    edges,
    dt,
  );
  const pushZ = solveHorizontal(
    shapes,
    along.map((w) => w.z),
    velocity.map((v) => v.z),
    edges,
    dt,
  );

  m.forceY.set(standing, edges[0]!);
  for (let k = 0; k < n; k++) {
    const shape = shapes[k]!;
    const [a, b] = vertical[k]!;
    for (let i = 0; i < shape.base.length; i++) {
      const g = shape.first + i;
      m.forceY[g]! += a * shape.base[i]! + b * shape.tilted[i]!;
      m.forceX[g]! += pushX[k]! * shape.push[i]! + along[k]!.x * shape.wave[i]!;
      m.forceZ[g]! += pushZ[k]! * shape.push[i]! + along[k]!.z * shape.wave[i]!;
    }
  }
}

function sampleShape(
  contact: PlannedContact,
  before: PlannedContact | undefined,
  style: GaitStyle,
  dt: number,
): SampledShape {
  const first = Math.ceil(contact.icS / dt);
  const length = Math.max(1, Math.floor(contact.toS / dt) - first + 1);
  const shape: SampledShape = {
    first,
    base: new Float64Array(length),
    tilted: new Float64Array(length),
    push: new Float64Array(length),
    wave: new Float64Array(length),
  };
  const durationS = contact.toS - contact.icS;
  const overlapS = before === undefined || before.startsStanding ? 0.1 : before.toS - contact.icS;
  // Two humps belong to walking with its double support; in the slow steps around a run they fade in.
  const hump = humpOf(contact, durationS) * smoothStep(overlapS / 0.08);
  const impact = {
    share: style.heelImpact[contact.side] * contact.vigour * (contact.kind === 'landing' ? 2 : 1),
    atS: style.heelImpactAtS,
    halfWidthS: style.heelImpactHalfWidthS,
  };
  // A contact that begins or ends standing is half an ordinary one with a plateau.
  const usualS = 2 * Math.min(durationS / 2, contact.gait === 'walk' ? 0.35 : 0.2);
  for (let i = 0; i < length; i++) {
    const t = (first + i) * dt;
    const tau = (t - contact.icS) / durationS;
    let base: number;
    let push: number;
    let wave = 0;
    if (contact.startsStanding) {
      const tail = Math.max(0.5, 1 - (contact.toS - t) / usualS);
      push = Math.sin(Math.PI * tail);
      base = verticalShape(tail, usualS, hump, { ...impact, share: 0 });
      const ramp = smoothStep((t - contact.icS) / (weightShiftEnd(contact) - contact.icS));
      base *= ramp;
      push *= ramp;
    } else if (contact.endsStanding && before?.endsStanding === true) {
      base =
        Math.sin(Math.PI * tau) ** 2 + Math.max(0, verticalShape(tau, durationS, 0, impact) - Math.sin(Math.PI * tau));
      push = Math.sin(Math.PI * tau) ** 2;
    } else if (contact.endsStanding) {
      const settleFromS = contact.icS + contact.stepTimeS;
      const head = Math.min(0.5, (t - contact.icS) / usualS);
      const fade = 1 - smoothStep((t - settleFromS) / (contact.toS - settleFromS));
      base = verticalShape(head, usualS, hump, impact) * fade;
      push = Math.sin(Math.PI * head) * fade;
    } else if (contact.kind === 'landing') {
      const early = Math.min(1, (t - contact.icS) / LANDING_PULSE_S);
      base = verticalShape(early, LANDING_PULSE_S, 0, impact);
      push = Math.sin(Math.PI * tau);
    } else {
      base = verticalShape(tau, durationS, hump, impact);
      push = Math.sin(Math.PI * tau);
      wave = -Math.sin(2 * Math.PI * tau);
    }
    shape.base[i] = base;
    // After a jump the fall is caught by a short pulse, and the weight borne by a long one.
    shape.tilted[i] = contact.kind === 'landing' ? push : base * (2 * tau - 1);
    shape.push[i] = push;
    shape.wave[i] = wave;
  }
  return shape;
}

/**
 * Depth of the dip between the two humps, such that the body rises in mid-stance as over a stiff leg, but less: step
 * length squared over 8 leg lengths, times 0.6 (M: 3-5 cm at a usual speed, 1-2 cm when slow).
 */
function humpOf(contact: PlannedContact, durationS: number): number {
  const stepM = Math.min(0.9, contact.speedMps * contact.stepTimeS);
  const riseM = Math.min(0.045, (0.6 * stepM ** 2) / (8 * LEG_M));
  const dip = ((2 * Math.PI) / contact.stepTimeS) ** 2 * (riseM / 2);
  const middle = (1 - dip / GRAVITY_MPS2) * (durationS / contact.stepTimeS) * (2 / Math.PI);
  return Math.min(0.45, Math.max(0, (1 - middle) / (1 + middle / 3)));
}

/** Change of velocity and of position (beyond v*T) that acceleration `a`, sampled from `first`, makes between two grid points. */
export function effect(a: Float64Array, first: number, from: number, to: number, dt: number): [number, number] {
  let velocity = 0;
  let position = 0;
  const begin = Math.max(from, first);
  const end = Math.min(to, first + a.length - 1);
  for (let g = begin; g <= end; g++) {
    const value = a[g - first]!;
    if (g === from) {
      velocity += (value * dt) / 2;
      position += value * (((to - from) * dt * dt) / 2 - (dt * dt) / 6);
    } else if (g === to) {
      velocity += (value * dt) / 2;
      position += (value * dt * dt) / 6;
    } else {
      velocity += value * dt;
      position += value * (to - g) * dt * dt;
    }
  }
  return [velocity, position];
}

type Pair = [number, number];
type Matrix = [number, number, number, number];

/** Block-tridiagonal system: contact k reaches at most into the intervals before and after its own. */
function solveVertical(
  bout: Bout,
  shapes: readonly SampledShape[],
  standing: Float64Array,
  edges: readonly number[],
  dt: number,
): Pair[] {
  const n = shapes.length;
  const block = (k: number, j: number): Matrix => {
    const shape = shapes[j];
    if (shape === undefined) return [0, 0, 0, 0];
    const a = effect(shape.base, shape.first, edges[k]!, edges[k + 1]!, dt);
    const b = effect(shape.tilted, shape.first, edges[k]!, edges[k + 1]!, dt);
    return [a[0], b[0], a[1], b[1]];
  };
  const upper: Matrix[] = [];
  const right: Pair[] = [];
  for (let k = 0; k < n; k++) {
    const node = bout.nodes[k]!;
    const next = bout.nodes[k + 1]!;
    const spanS = (edges[k + 1]! - edges[k]!) * dt;
    const stand = effect(standing, edges[0]!, edges[k]!, edges[k + 1]!, dt);
    const need: Pair = [
      next.riseMps - node.riseMps + GRAVITY_MPS2 * spanS - stand[0],
      next.heightM - node.heightM - node.riseMps * spanS + (GRAVITY_MPS2 * spanS ** 2) / 2 - stand[1],
    ];
    let diagonal = block(k, k);
    if (k > 0) {
      const lower = block(k, k - 1);
      diagonal = minus(diagonal, product(lower, upper[k - 1]!));
      const carried = apply(lower, right[k - 1]!);
      need[0] -= carried[0];
      need[1] -= carried[1];
    }
    const inv = invert(diagonal);
    upper.push(product(inv, block(k, k + 1)));
    right.push(apply(inv, need));
  }
  for (let k = n - 2; k >= 0; k--) {
    const back = apply(upper[k]!, right[k + 1]!);
    right[k] = [right[k]![0] - back[0], right[k]![1] - back[1]];
  }
  return right;
}

function solveHorizontal(
  shapes: readonly SampledShape[],
  wave: readonly number[],
  velocity: readonly number[],
  edges: readonly number[],
  dt: number,
): number[] {
  const n = shapes.length;
  const part = (field: 'push' | 'wave', k: number, j: number): number => {
    const shape = shapes[j];
    return shape === undefined ? 0 : effect(shape[field], shape.first, edges[k]!, edges[k + 1]!, dt)[0];
  };
  const upper: number[] = [];
  const right: number[] = [];
  for (let k = 0; k < n; k++) {
    let need = velocity[k + 1]! - velocity[k]!;
    for (const j of [k - 1, k, k + 1]) if (j >= 0 && j < n) need -= wave[j]! * part('wave', k, j);
    const lower = k > 0 ? part('push', k, k - 1) : 0;
    const pivot = part('push', k, k) - (k > 0 ? lower * upper[k - 1]! : 0);
    upper.push(part('push', k, k + 1) / pivot);
    right.push((need - (k > 0 ? lower * right[k - 1]! : 0)) / pivot);
  }
  for (let k = n - 2; k >= 0; k--) right[k]! -= upper[k]! * right[k + 1]!;
  return right;
}

function product(p: Matrix, q: Matrix): Matrix {
  return [p[0] * q[0] + p[1] * q[2], p[0] * q[1] + p[1] * q[3], p[2] * q[0] + p[3] * q[2], p[2] * q[1] + p[3] * q[3]];
}

function minus(p: Matrix, q: Matrix): Matrix {
  return [p[0] - q[0], p[1] - q[1], p[2] - q[2], p[3] - q[3]];
}

function apply(p: Matrix, v: Pair): Pair {
  return [p[0] * v[0] + p[1] * v[1], p[2] * v[0] + p[3] * v[1]];
}

function invert(p: Matrix): Matrix {
  const det = p[0] * p[3] - p[1] * p[2];
  return [p[3] / det, -p[1] / det, -p[2] / det, p[0] / det];
}

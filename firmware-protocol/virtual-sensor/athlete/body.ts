/** Where pelvis and thorax are and how they are turned, on a fine grid: the exact motion that sensors then feel. */
import { BODY_DT_S } from './body-grid.ts';
import { follow } from './course.ts';
import { GRAVITY_MPS2 } from './plan.ts';
import { moveBody, type Motion } from './ground-force.ts';
import { drawPosture, type Posture } from './posture.ts';
import type { AthleteProfile } from './profile.ts';
import { fromHeadingLateralForward, fromRotationVector, multiply, rotate, type Quat } from './rotation.ts';
import { shockOf } from './shock.ts';
import type { Timeline } from './timeline.ts';

const RAD = Math.PI / 180;
export { BODY_DT_S };

export interface SegmentMotion {
  x: Float64Array;
  y: Float64Array;
  z: Float64Array;
  qw: Float64Array;
  qx: Float64Array;
  qy: Float64Array;
  qz: Float64Array;
}

export interface BodyMotion {
  dt: number;
  count: number;
  pelvis: SegmentMotion;
  thorax: SegmentMotion;
  centreOfMass: Motion;
}

/** M: centre of mass at 0.56 of the height, the pelvis a little under it, shares of the trunk's length. */
const COM_HEIGHT_SHARE = 0.56;
const LUMBAR_SHARE = 0.06;
const THORAX_SHARE = 0.15;
/** M: what of the jolt at the pelvis arrives at the chest. */
const SHOCK_AT_CHEST = 0.35;

export function simulateBody(timeline: Timeline, profile: AthleteProfile, seed: number): BodyMotion {
  const dt = BODY_DT_S;
  const count = Math.ceil(timeline.endS / dt) + 1;
  const com = moveBody(timeline.bouts, profile, dt, count, (m) => {
    for (const act of timeline.acts) follow(m, act.courses);
  });
  const posture = drawPosture(timeline, profile, seed, dt, count);
  const pelvis = emptySegment(count);
  const thorax = emptySegment(count);
  const spine = compressSpine(com, profile);
  const shock = shockOf(timeline, profile, seed, dt, count);
  const lumbarM = LUMBAR_SHARE * profile.heightM;
  const chestM = THORAX_SHARE * profile.heightM;
  const [towardsX, towardsY] = profile.bowAxisErrorDeg;
  const axis: [number, number, number] = [Math.sin(towardsX * RAD), Math.sin(towardsY * RAD), 0];
  axis[2] = Math.sqrt(1 - axis[0] ** 2 - axis[1] ** 2);
  for (let k = 0; k < count; k++) {
    const path = posture.pathHeadingDeg[k]! * RAD;
    const c = Math.cos(path);
    const s = Math.sin(path);
    const forward = posture.pelvisForwardM[k]!;
    const right = posture.pelvisRightM[k]!;
    const px = com.x[k]! + forward * c + right * s;
    const py = com.y[k]! + COM_HEIGHT_SHARE * profile.heightM + posture.pelvisUpM[k]!;
    const pz = com.z[k]! - forward * s + right * c;
    const qp = segmentTurn(posture, k, 'pelvis', path, axis);
    const qt = segmentTurn(posture, k, 'trunk', path, axis);
    const jx = shock.forward[k]! * c + shock.right[k]! * s;
    const jy = shock.up[k]!;
    const jz = -shock.forward[k]! * s + shock.right[k]! * c;
    const low = rotate(qp, [0, lumbarM, 0]);
    const high = rotate(qt, [0, chestM, 0]);
    setSegment(pelvis, k, px + jx, py + jy, pz + jz, qp);
    const tx = px + SHOCK_AT_CHEST * jx + low[0] + high[0];
    const ty = py + SHOCK_AT_CHEST * jy + low[1] + high[1] + spine[k]!;
    const tz = pz + SHOCK_AT_CHEST * jz + low[2] + high[2];
    setSegment(thorax, k, tx, ty, tz, qt);
  }
  return { dt, count, pelvis, thorax, centreOfMass: com };
}

function segmentTurn(
  posture: Posture,
  k: number,
  segment: 'pelvis' | 'trunk',
  path: number,
  bowAxis: readonly [number, number, number],
): Quat {
  const pelvis = segment === 'pelvis';
  const turn = (pelvis ? posture.pelvisTurnDeg : posture.trunkTurnDeg)[k]! * RAD;
  const lateral = (pelvis ? posture.pelvicObliquityDeg : posture.trunkLateralTiltDeg)[k]! * RAD;
  const forward = (pelvis ? posture.pelvicTiltDeg : posture.trunkForwardTiltDeg)[k]! * RAD;
  const bow = (pelvis ? posture.pelvisBowDeg : posture.trunkBowDeg)[k]! * RAD;
  const upright = fromHeadingLateralForward(path + turn, lateral, forward);
  if (bow === 0) return upright;
  return multiply(upright, fromRotationVector([-bow * bowAxis[0], -bow * bowAxis[1], -bow * bowAxis[2]]));
}

/** Vertical give of the spine: a damped spring that the acceleration of the centre of mass drives. Metres. */
function compressSpine(com: Motion, profile: AthleteProfile): Float64Array {
  const omega = 2 * Math.PI * profile.spineFrequencyHz;
  const out = new Float64Array(com.count);
  let rate = 0;
  for (let k = 1; k < com.count; k++) {
    const drive = com.forceY[k]! - GRAVITY_MPS2;
    rate += com.dt * (-omega * omega * out[k - 1]! - 2 * profile.spineDamping * omega * rate - drive);
    out[k] = out[k - 1]! + com.dt * rate;
  }
  return out;
}

function emptySegment(count: number): SegmentMotion {
  const make = () => new Float64Array(count);
  return { x: make(), y: make(), z: make(), qw: make(), qx: make(), qy: make(), qz: make() };
}

function setSegment(segment: SegmentMotion, k: number, x: number, y: number, z: number, q: Quat): void {
  segment.x[k] = x;
  segment.y[k] = y;
  segment.z[k] = z;
  segment.qw[k] = q[0];
  segment.qx[k] = q[1];
  segment.qy[k] = q[2];
  segment.qz[k] = q[3];
}

export function orientationAt(segment: SegmentMotion, k: number): Quat {
  return [segment.qw[k]!, segment.qx[k]!, segment.qy[k]!, segment.qz[k]!];
}

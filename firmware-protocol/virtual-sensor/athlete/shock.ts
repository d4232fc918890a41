/**
 * The jolt that runs up the leg at each contact: pelvis against the centre of mass, a damped spring struck by a short
 * pulse. It adds what a sensor on the pelvis feels beyond the mean motion of the whole body, and moves no momentum.
 */
import type { AthleteProfile } from './profile.ts';
import { GRAVITY_MPS2 } from './plan.ts';
import { Random } from './random.ts';
import type { Timeline } from './timeline.ts';

/** M: pulse of about 20 ms a few ms after the contact, ringing at 12-20 Hz and soon gone. */
const PULSE_DELAY_S = 0.004;
const PULSE_S = 0.022;

export interface Shock {
  up: Float64Array;
  forward: Float64Array;
  right: Float64Array;
}

/** Displacement of the pelvis in m along and across the path. */
export function shockOf(timeline: Timeline, profile: AthleteProfile, seed: number, dt: number, count: number): Shock {
  const random = new Random(seed, 'shock');
  const drive = { up: new Float64Array(count), forward: new Float64Array(count), right: new Float64Array(count) };
  const strike = (atS: number, size: number, backward: number, inward: number): void => {
    const from = Math.ceil((atS + PULSE_DELAY_S) / dt);
    for (let k = from; k < count && (k - from) * dt < PULSE_S; k++) {
      const pulse = size * Math.sin((Math.PI * (k - from) * dt) / PULSE_S) ** 2;
      drive.up[k]! += pulse;
      drive.forward[k]! -= backward * pulse;
      drive.right[k]! += inward * pulse;
    }
  };
  for (const contact of timeline.bouts.flatMap((bout) => bout.contacts)) {
    if (contact.startsStanding) continue;
    const style = profile[contact.gait];
    const landing = contact.kind === 'landing' ? 2 : 1;
    const size = style.shockG[contact.side] * GRAVITY_MPS2 * contact.vigour * landing * Math.exp(0.2 * random.normal());
    const backward = random.between(0.15, 0.5);
    const inward = (contact.side === 'right' ? -1 : 1) * 0.2 * (1 + random.normal());
    strike(contact.icS, size, backward, inward);
  }
  const others = new Random(seed, 'act shock');
  for (const jolt of timeline.acts.flatMap((act) => act.jolts)) {
    const size = jolt.sizeG * GRAVITY_MPS2 * Math.exp(0.2 * others.normal());
    const inward = (jolt.side === 'right' ? -1 : 1) * 0.2 * (1 + others.normal());
    strike(jolt.tS, size, others.between(0, 0.3), inward);
  }
  const ring = (push: Float64Array) => {
    const omega = 2 * Math.PI * profile.shockFrequencyHz;
    let rate = 0;
    let place = 0;
    return push.map((a) => {
      rate += dt * (a - omega * omega * place - 2 * profile.shockDamping * omega * rate);
      place += dt * rate;
      return place;
    });
  };
  return { up: ring(drive.up), forward: ring(drive.forward), right: ring(drive.right) };
}

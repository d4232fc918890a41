import { describe, expect, it } from 'vitest';
import {
  ideal,
  randomAthlete,
  realistic,
  simulateSession,
  type Columns,
  type ScriptStep,
  type SensorModel,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { Random } from '../../firmware-protocol/virtual-sensor/athlete/random.ts';
import {
  fromRotationVector,
  inverse,
  multiply,
  rotate,
  toRotationVector,
  type Quat,
} from '../../firmware-protocol/virtual-sensor/athlete/rotation.ts';
import type { SegmentMotion } from '../../firmware-protocol/virtual-sensor/athlete/body.ts';
import { anyOrientation } from '../../firmware-protocol/virtual-sensor/athlete/sensor.ts';

const G = 9.81;
const MIXED: ScriptStep[] = [
  { kind: 'reference_stand', seconds: 3 },
  { kind: 'forward_bow', seconds: 9 },
  { kind: 'walk', seconds: 8, cadencePerMin: 110 },
  {
    kind: 'run',
    seconds: 8,
    cadencePerMin: 170,
    speedMps: 4,
    curve: { direction: 'right', radiusM: 12, afterS: 3, seconds: 3 },
  },
  { kind: 'run-up', steps: 8, topSpeedMps: 6, takeOff: { side: 'right', flightS: 0.5, landing: 'left' } },
  { kind: 'pause', seconds: 2 },
];

function stillAthlete() {
  const athlete = randomAthlete(2);
  athlete.swayDeg = 0;
  athlete.swayM = 0;
  athlete.restingLean = { ...athlete.referencePosture };
  return athlete;
}

function poseAt(m: SegmentMotion, k: number): Quat {
  return [m.qw[k]!, m.qx[k]!, m.qy[k]!, m.qz[k]!];
}

function session(sensor: SensorModel, seed = 11, script = MIXED) {
  return simulateSession({
    seed,
    athlete: randomAthlete(seed),
    script,
    sensors: { pelvis: sensor, sternum: { ...sensor, leverM: [0.11, 0.04, 0] } },
  });
}

describe('the ideal sensor', () => {
  it('reads g along the true up axis at rest, whatever the mounting', () => {
    const r = new Random(1, 'mountings');
    for (let i = 0; i < 12; i++) {
      const mounting = anyOrientation(r);
      const { streams } = simulateSession({
        seed: i,
        athlete: stillAthlete(),
        script: [{ kind: 'stand', seconds: 2 }],
        sensors: { pelvis: ideal('pelvis', { mounting }) },
      });
      const up = rotate(inverse(mounting), [0, G, 0]);
      const { ax, ay, az, gx, gy, gz } = streams.pelvis;
      for (let k = 0; k < ax.length; k += 50) {
        expect(Math.hypot(ax[k]! - up[0], ay[k]! - up[1], az[k]! - up[2])).toBeLessThan(1e-6);
        expect(Math.hypot(gx[k]!, gy[k]!, gz[k]!)).toBeLessThan(1e-9);
      }
    }
  });

  it('integrates twice to the true path of its place on the segment, lever arm included', () => {
    const leverM = [-0.1, 0.05, 0.03] as const;
    const { streams, truth } = session(
      ideal('pelvis', { rateHz: 500, leverM, mounting: anyOrientation(new Random(3)) }),
    );
    const { ax, ay, az, tS } = streams.pelvis;
    const m = truth.motion.pelvis;
    const place = (k: number) => {
      const arm = rotate(poseAt(m, k), leverM);
      return [m.x[k]! + arm[0], m.y[k]! + arm[1], m.z[k]! + arm[2]] as const;
    };
    const force = (k: number) => {
      const f = rotate(multiply(poseAt(m, k), truth.mounting.pelvis), [ax[k]!, ay[k]!, az[k]!]);
      return [f[0], f[1] - G, f[2]] as const;
    };
    const dt = 1 / 500;
    const p = [...place(0)];
    const v = [0, 0, 0];
    let worst = 0;
    let a = force(0);
    for (let k = 1; k < tS.length; k++) {
      const b = force(k);
      for (const i of [0, 1, 2] as const) {
        p[i]! += v[i]! * dt + ((2 * a[i] + b[i]) * dt * dt) / 6;
        v[i]! += ((a[i] + b[i]) * dt) / 2;
      }
      a = b;
      const t = place(k);
      worst = Math.max(worst, Math.hypot(p[0]! - t[0], p[1]! - t[1], p[2]! - t[2]));
    }
    const travelled = m.x.at(-1)! - m.x[0]!;
    expect(travelled).toBeGreaterThan(30);
    expect(worst).toBeLessThan(0.05);
  });

  it.each(['pelvis', 'sternum'] as const)('has a %s gyroscope that integrates to the true orientation', (place) => {
    const { streams, truth } = session(ideal('pelvis', { rateHz: 500, mounting: anyOrientation(new Random(4)) }));
    const s = streams[place] as Columns;
    const m = truth.motion[place === 'pelvis' ? 'pelvis' : 'thorax'];
    const mounting = truth.mounting[place]!;
    let q = multiply(poseAt(m, 0), mounting);
    let worst = 0;
    for (let k = 1; k < s.tS.length; k++) {
      const dt = s.tS[k]! - s.tS[k - 1]!;
      const half = dt / 2;
      q = multiply(
        q,
        fromRotationVector([
          (s.gx[k - 1]! + s.gx[k]!) * half,
          (s.gy[k - 1]! + s.gy[k]!) * half,
          (s.gz[k - 1]! + s.gz[k]!) * half,
        ]),
      );
      const error = toRotationVector(multiply(inverse(multiply(poseAt(m, k), mounting)), q));
      worst = Math.max(worst, Math.hypot(...error) * (180 / Math.PI));
    }
    expect(worst).toBeLessThan(0.05);
  });
});

describe('the sensor in real life', () => {
  const rest: ScriptStep[] = [{ kind: 'stand', seconds: 20 }];
  const at = (sensor: SensorModel) =>
    simulateSession({ seed: 5, athlete: stillAthlete(), script: rest, sensors: { pelvis: sensor } }).streams.pelvis;
  const mean = (x: Float64Array) => x.reduce((a, b) => a + b, 0) / x.length;
  const sd = (x: Float64Array) => Math.sqrt(mean(x.map((v) => (v - mean(x)) ** 2)));

  it('has white noise of density times the square root of the rate, around its bias', () => {
    const base = ideal('pelvis');
    const s = at({ ...base, gyro: { ...base.gyro, noiseDensity: 1e-4, biasRadPerS: [0.02, -0.01, 0] } });
    expect(sd(s.gx) / (1e-4 * Math.sqrt(200))).toBeGreaterThan(0.95);
    expect(sd(s.gx) / (1e-4 * Math.sqrt(200))).toBeLessThan(1.05);
    expect(mean(s.gx)).toBeCloseTo(0.02, 3);
    expect(mean(s.gy)).toBeCloseTo(-0.01, 3);
  });

  it('rests between 9.6 and 10.2 m/s^2 or close to it, as real ones do, any way up', () => {
    const upright: number[] = [];
    for (let seed = 0; seed < 20; seed++) {
      const s = at(realistic('pelvis', seed));
      const norm = Math.hypot(mean(s.ax), mean(s.ay), mean(s.az));
      expect(norm).toBeGreaterThan(9.5);
      expect(norm).toBeLessThan(10.2);
      upright.push(Math.sign(mean(s.ay)));
    }
    expect(new Set(upright)).toEqual(new Set([-1, 1]));
  });

  it('stops at its range', () => {
    const base = ideal('pelvis');
    const s = session({ ...base, accel: { ...base.accel, rangeMps2: 15 } }).streams.pelvis;
    expect(Math.max(...s.ay)).toBe(15);
  });

  it('keeps its own clock: offset and skew show in its times and not in the truth of the other', () => {
    const sternum = ideal('sternum', { clock: { offsetS: 100, skewPpm: 50, phaseS: 0.002 } });
    const { streams, truth } = simulateSession({
      seed: 1,
      athlete: randomAthlete(1),
      script: [{ kind: 'stand', seconds: 60 }],
      sensors: { pelvis: ideal('pelvis'), sternum },
    });
    expect(truth.clock.sternumOffsetS).toBeCloseTo(100, 9);
    expect(truth.clock.sternumSkewPpm).toBeCloseTo(50, 6);
    const t = streams.sternum!.tS;
    expect(t[0]).toBeCloseTo(100.002, 6);
    expect(t[1]! - t[0]!).toBeCloseTo(0.005, 9);
    // The faster clock takes its samples closer together: one more in a hundred seconds, none missing.
    expect(streams.pelvis.tS[200]).toBe(1);
  });

  it('loses whole packets in bursts, about as many as asked for, and never changes what arrives', () => {
    const all = session(ideal('pelvis'));
    const some = session(ideal('pelvis', { loss: { share: 0.05, burstPackets: 3, samplesPerPacket: 10 } }));
    const share = 1 - some.streams.pelvis.tS.length / all.streams.pelvis.tS.length;
    expect(share).toBeGreaterThan(0.01);
    expect(share).toBeLessThan(0.12);
    const index = new Map(Array.from(all.streams.pelvis.tS, (t, k) => [t, k]));
    some.streams.pelvis.tS.forEach((t, k) =>
      expect(some.streams.pelvis.ay[k]).toBe(all.streams.pelvis.ay[index.get(t)!]),
    );
    const missing = [...index.values()].filter((k) => !some.streams.pelvis.tS.includes(all.streams.pelvis.tS[k]!));
    expect(missing.length % 10 === 0 || missing.at(-1) === index.size - 1).toBe(true);
  });

  it('wobbles at its own frequency in flight, after the push that threw it up, and rests when the body does', () => {
    const wobble = { frequencyHz: 10, damping: 0.05, translation: 1, rotationPerMetre: [0, 0, 0] as const };
    const firm = session(ideal('pelvis'));
    const loose = session(ideal('pelvis', { wobble }));
    const difference = firm.streams.pelvis.ay.map((v, k) => loose.streams.pelvis.ay[k]! - v);
    expect(Math.max(...difference.subarray(0, 400).map(Math.abs))).toBeLessThan(0.02);
    const leap = firm.truth.takeOffs[0]!;
    const flight = difference.subarray(Math.round((leap.t + 0.05) * 200), Math.round((leap.t + 0.45) * 200));
    expect(Math.max(...flight)).toBeGreaterThan(1);
    let crossings = 0;
    for (let k = 1; k < flight.length; k++) if (flight[k]! * flight[k - 1]! < 0) crossings++;
    expect(Math.abs(crossings / 2 / 0.4 - 10)).toBeLessThanOrEqual(1.25);
  });
});

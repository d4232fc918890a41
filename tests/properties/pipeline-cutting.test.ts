/**
 * Cutting never matters: however the samples come in pieces, and however often the state is saved and restored between
 * them, the same comes out in the same order.
 */
import type { Place } from '@ambipede/shared';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  exampleAthlete,
  realistic,
  simulateSession,
  type SimulatedSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { isLeadIn } from '../../server/src/motion/calibration.ts';
import type { ImuSample } from '../../server/src/motion/types.ts';
import { startPipeline, stepPipeline, type PipelineInput, type PipelineOutput } from '../../server/src/pipeline.ts';
import { samplesOf } from '../motion/drive.ts';

const RATE_HZ = 100;
const SEED = 4711;

/** Lead-in, walking, standing, running; lost packets, so that gaps are filled and runs are broken. */
function session(): SimulatedSession {
  const loss = { share: 0.01, burstPackets: 1.5, samplesPerPacket: 4 };
  return simulateSession({
    seed: 5,
    athlete: exampleAthlete(5),
    sensors: {
      pelvis: realistic('pelvis', 5, { rateHz: RATE_HZ, loss }),
      sternum: realistic('sternum', 6, { rateHz: RATE_HZ, loss }),
    },
    script: [
      { kind: 'reference_stand', seconds: 4 },
      { kind: 'forward_bow', seconds: 8 },
      { kind: 'walk', seconds: 6, cadencePerMin: 110 },
      { kind: 'pause', seconds: 2 },
      { kind: 'run', seconds: 7, cadencePerMin: 170, speedMps: 3.3 },
      { kind: 'pause', seconds: 1 },
    ],
  });
}

type Event = { place: Place; sample: ImuSample } | { mark: Extract<PipelineInput, { kind: 'lead-in' }> };

/** In the order of arrival: long packets of both sensors in turn, each lead-in step when it has ended. */
function eventsOf({ streams, marks }: SimulatedSession, hasLeadIn: boolean): Event[] {
  const packetS = 0.4;
  const samples = (['pelvis', 'sternum'] as const).flatMap((place) =>
    samplesOf(streams[place]!).map((sample) => ({ place, sample, packet: Math.floor(sample.tS / packetS) })),
  );
  samples.sort((a, b) => a.packet - b.packet || (a.place === b.place ? 0 : a.place === 'sternum' ? -1 : 1));
  const events: Event[] = [];
  const steps = hasLeadIn ? marks.filter(isLeadIn) : [];
  for (const { place, sample } of samples) {
    while (steps[0] && sample.tS > steps[0].endS) events.push({ mark: { kind: 'lead-in', mark: steps.shift()! } });
    events.push({ place, sample });
  }
  return events;
}

/** Pieces of at most so many samples, of one sensor each, in the order of the events; `sizes` is used round and round. */
function cut(events: readonly Event[], sizes: readonly number[]): PipelineInput[] {
  const inputs: PipelineInput[] = [];
  let turn = 0;
  let room = 0;
  for (const event of events) {
    if ('mark' in event) {
      inputs.push(event.mark);
      continue;
    }
    const last = inputs[inputs.length - 1];
    if (room > 0 && last?.kind === 'samples' && last.place === event.place) {
      last.samples.push(event.sample);
      room -= 1;
    } else {
      room = sizes[turn % sizes.length]! - 1;
      turn += 1;
      inputs.push({ kind: 'samples', place: event.place, samples: [event.sample] });
    }
  }
  return inputs;
}

function run(inputs: readonly PipelineInput[], isSaved: (index: number) => boolean = () => false): PipelineOutput[] {
  let state = startPipeline({ rateHz: { pelvis: RATE_HZ, sternum: RATE_HZ } });
  const out: PipelineOutput[] = [];
  inputs.forEach((input, i) => {
    if (isSaved(i)) state = structuredClone(state);
    // What came out must not change any more either: it is copied at once.
    out.push(...structuredClone(stepPipeline(state, input)));
  });
  return out;
}

describe.each([
  { name: 'with a lead-in', hasLeadIn: true },
  { name: 'without one', hasLeadIn: false },
])('the live stages, $name,', ({ hasLeadIn }) => {
  const events = eventsOf(session(), hasLeadIn);
  const whole = run(cut(events, [1]));

  it('give something of every kind on this session, so that the properties below say something', () => {
    const kinds = new Set<string>(whole.map((output) => output.kind));
    expect([...kinds].sort()).toEqual(['angles', 'contact', 'gap', 'mounting', 'stance']);
    const sides = new Set(whole.flatMap((output) => (output.kind === 'stance' ? [output.stance.side] : [])));
    expect(sides).toContain('left');
    expect(sides).toContain('right');
  });

  it('give the same however the samples are cut', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 40 }), { minLength: 1, maxLength: 20 }), (sizes) => {
        expect(run(cut(events, sizes))).toEqual(whole);
      }),
      { seed: SEED, numRuns: 6 },
    );
  });

  it('give the same however often the state is saved and restored between two inputs', () => {
    const inputs = cut(events, [8]);
    fc.assert(
      fc.property(fc.uniqueArray(fc.nat(inputs.length - 1), { minLength: 1, maxLength: 40 }), (saves) => {
        const at = new Set(saves);
        expect(run(inputs, (i) => at.has(i))).toEqual(whole);
      }),
      { seed: SEED, numRuns: 5 },
    );
  });

  it('keep nothing outside the state: two sessions at once do not touch each other', () => {
    const inputs = cut(events, [8]);
    const a = startPipeline({ rateHz: { pelvis: RATE_HZ, sternum: RATE_HZ } });
    const b = startPipeline({ rateHz: { pelvis: RATE_HZ, sternum: RATE_HZ } });
    const out: PipelineOutput[] = [];
    inputs.forEach((input, i) => {
      out.push(...stepPipeline(a, input));
      const late = inputs[i - 100];
      if (late) stepPipeline(b, late);
    });
    expect(out).toEqual(whole);
  });
});

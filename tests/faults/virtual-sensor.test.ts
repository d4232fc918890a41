/** What the device in software does by itself: its clock, its buffer, and how it takes a refusal or a silent server. */
import { once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { describe, expect, test } from 'vitest';
import { WebSocketServer } from 'ws';
import { closeCodeOf, decode, encode, type Message, type ProtocolErrorName } from '@ambipede/firmware-protocol';
import { startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { VirtualSensor, VirtualSensorOptions } from '@ambipede/firmware-protocol/virtual-sensor';
import { makeDeviceClock } from '../../firmware-protocol/virtual-sensor/clock.ts';
import { makeDrift } from '../../firmware-protocol/virtual-sensor/drift.ts';
import { waitUntil } from '../support/wait-until.ts';
import { markedSource } from './marked-samples.ts';

describe('the clock', () => {
  const settings = { startMs: 0, bootedS: 0, skewPpm: 30, driftPpm: 20, seed: 7, speed: 1 };
  const minutes = Array.from({ length: 120 }, (_, i) => i);

  test('runs off by its skew and wanders within its drift, slowly, and never back', () => {
    const clock = makeDeviceClock(settings);
    const ppm = minutes.map((minute) => {
      const fromMs = minute * 60_000;
      return (clock.tickUsAt(fromMs + 10_000) - clock.tickUsAt(fromMs)) / 10 - 1e6;
    });
    expect(Math.min(...ppm)).toBeGreaterThan(30 - 20.2);
    expect(Math.max(...ppm)).toBeLessThan(30 + 20.2);
    expect(Math.max(...ppm) - Math.min(...ppm)).toBeGreaterThan(15);
    const seconds = Array.from({ length: 1000 }, (_, i) => makeDrift(20, 7).ppmAt(i));
    const steps = seconds.slice(1).map((value, i) => Math.abs(value - (seconds[i] ?? 0)));
    expect(Math.max(...steps)).toBeLessThan(0.3);
  });

  test('gains what its rate error says, and the same for the same seed only', () => {
    const drift = makeDrift(20, 7);
    // The integral by the midpoint rule.
    let gained = 0;
    for (let s = 0; s < 1500; s += 0.5) gained += drift.ppmAt(s + 0.25) * 0.5;
    expect(drift.gainedUs(1500)).toBeCloseTo(gained, 1);
    const at = (seed: number) => minutes.map((minute) => makeDeviceClock({ ...settings, seed }).tickUsAt(minute * 6e4));
    expect(at(7)).toEqual(at(7));
    expect(at(7)).not.toEqual(at(8));
    expect(makeDrift(0, 7).gainedUs(1500)).toBe(0);
  });
});

/** A server that answers each hello as told, and says nothing else. */
async function start(
  answer: (hello: Message & { type: 'hello' }) => Message | ProtocolErrorName,
  onTestFinished: (end: () => Promise<void>) => void,
  more: Partial<VirtualSensorOptions> = {},
): Promise<{ sensor: VirtualSensor; bootIds: number[] }> {
  const bootIds: number[] = [];
  const server = new WebSocketServer({ host: '127.0.0.1', port: 0 });
  server.on('connection', (socket) =>
    socket.on('message', (data) => {
      const decoded = decode(data as Buffer);
      if (!decoded.ok || decoded.message.type !== 'hello') return;
      bootIds.push(decoded.message.bootId);
      const said = answer(decoded.message);
      if (typeof said === 'string') socket.close(closeCodeOf(said));
      else socket.send(encode(said));
    }),
  );
  await once(server, 'listening');
  const url = `ws://127.0.0.1:${(server.address() as AddressInfo).port}/ingest`;
  const sensor = startVirtualSensor({ deviceId: 'a', url, rateHz: 200, source: markedSource(), bootId: 8, ...more });
  onTestFinished(async () => {
    await sensor.stop();
    for (const client of server.clients) client.terminate();
    await new Promise((resolve) => server.close(resolve));
  });
  return { sensor, bootIds };
}

describe.concurrent('a device', () => {
  test.for(['replaced', 'not-enrolled'] as const)(
    'that is %s measures on and does not come back soon',
    async (name, { onTestFinished, expect }) => {
      const started = await start(() => name, onTestFinished);
      await waitUntil('it is refused', () => started.bootIds.length > 0);
      const { sampled } = started.sensor.state();
      await sleep(1500);
      expect(started.bootIds).toEqual([8]);
      expect(started.sensor.state().sampled).toBeGreaterThan(sampled + 200);
      expect(started.sensor.state()).toMatchObject({ connected: false, acknowledged: 0, dropped: 0 });
    },
  );

  test('whose boot id was used before takes another, and reports what it had measured under the first', async ({
    onTestFinished,
    expect,
  }) => {
    const started = await start(
      ({ bootId }) => ({ type: 'welcome', bootId, nextSequence: bootId === 8 ? 5000 : 0 }),
      onTestFinished,
    );
    await waitUntil('it is welcome', () => started.sensor.state().connected);
    expect(started.bootIds).toEqual([8, 9]);
    const [first, second] = started.sensor.state().boots;
    expect(first?.lost).toEqual(first?.sampled ? [{ from: 0, to: first.sampled }] : []);
    expect(second).toMatchObject({ bootId: 9, lost: [] });
  });

  test('leaves a server that has fallen silent, and says hello again with the same boot', async ({
    onTestFinished,
    expect,
  }) => {
    const started = await start(({ bootId }) => ({ type: 'welcome', bootId, nextSequence: 0 }), onTestFinished);
    await waitUntil('it comes again', () => started.bootIds.length > 1);
    expect(started.bootIds).toEqual([8, 8]);
    expect(started.sensor.state()).toMatchObject({ acknowledged: 0, dropped: 0 });
  });

  test('whose buffer is full gives up the oldest samples and says which', async ({ onTestFinished, expect }) => {
    const started = await start(({ bootId }) => ({ type: 'welcome', bootId, nextSequence: 0 }), onTestFinished, {
      bufferS: 0.5,
    });
    await waitUntil('it has measured two seconds', () => started.sensor.state().sampled > 400);
    const { boots, dropped, sampled } = started.sensor.state();
    expect(boots).toEqual([{ bootId: 8, sampled, lost: [{ from: 0, to: sampled - 100 }] }]);
    expect(dropped).toBe(sampled - 100);
  });
});

import { describe, expect, it } from 'vitest';
import { DeviceRegister } from '../../server/src/ingest/device-register.ts';
import { DEVICES_REMEMBERED_MAX } from '../../server/src/ingest/limits.ts';
import type { Device } from '../../server/src/ingest/sensor-state.ts';
import { openStream } from '../../server/src/ingest/sensor-stream.ts';

/** A register filled to its limit; `change` is done to every device in it. */
function full(change: (device: Device) => void, hasUnstored = false): DeviceRegister {
  const register = new DeviceRegister(() => hasUnstored);
  for (let i = 0; i < DEVICES_REMEMBERED_MAX; i++) change(register.obtain(`d${i}`));
  return register;
}

function giveStream(device: Device): void {
  const { deviceId } = device;
  const rates = { rateMilliHz: 200_000, accelScale: 4_788_550, gyroScale: 1_065_297, magnScale: 0, channels: 3 };
  device.stream = openStream({ type: 'hello', bootId: 1, ...rates, deviceId, token: new Uint8Array() }, null);
}

describe('the devices remembered', () => {
  it('are as many as the limit says; one more takes the place of the oldest that is idle', () => {
    const register = full(giveStream);
    expect(register.get('d0')).toBeDefined();
    register.obtain('new');
    expect(register.get('d0')).toBeUndefined();
    expect(register.get('d1')).toBeDefined();
    expect(register.get('new')).toBeDefined();
  });

  it('are never lost while samples of theirs wait for the disk, and the new one is let in all the same', () => {
    const register = full(giveStream, true);
    const device = register.obtain('new');
    expect(register.get('d0')).toBeDefined();
    expect(register.get('new')).toBe(device);
  });

  it('stay the same object for the same id', () => {
    const register = full(giveStream);
    expect(register.obtain('d7')).toBe(register.get('d7'));
    expect(register.get('d0')).toBeDefined();
  });
});

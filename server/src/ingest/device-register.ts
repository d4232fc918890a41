/** The devices that have said hello since the server started. Those long gone are forgotten before memory fills. */
import { DEVICES_REMEMBERED_MAX } from './limits.ts';
import type { Device } from './sensor-state.ts';

export class DeviceRegister {
  readonly #devices = new Map<string, Device>();
  readonly #hasUnstored: (deviceId: string, bootId: number) => boolean;

  /** @param hasUnstored whether samples of this stream still wait for the disk: such a device is kept */
  constructor(hasUnstored: (deviceId: string, bootId: number) => boolean) {
    this.#hasUnstored = hasUnstored;
  }

  get(deviceId: string): Device | undefined {
    return this.#devices.get(deviceId);
  }

  /** The device of this id, new if it is not known. */
  obtain(deviceId: string): Device {
    const known = this.#devices.get(deviceId);
    if (known) return known;
    // Before the new one is in: it is idle itself until its connection is set.
    if (this.#devices.size >= DEVICES_REMEMBERED_MAX) this.#forgetOneIdle();
    const device: Device = {
      deviceId,
      connection: null,
      stream: null,
      earlier: { received: 0, lost: 0, duplicates: 0, late: 0 },
      newestUtcMs: null,
      status: null,
    };
    this.#devices.set(deviceId, device);
    return device;
  }

  #forgetOneIdle(): void {
    for (const [deviceId, { connection, stream }] of this.#devices) {
      if (connection || (stream && this.#hasUnstored(deviceId, stream.bootId))) continue;
      this.#devices.delete(deviceId);
      return;
    }
  }
}

/** What a sensor is doing, in words. */
import type { SensorStatus } from '@ambipede/shared';
import { ageText, fixed } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

export function sensorWords(status: SensorStatus | null): string {
  if (status === null) return TEXTS.sensor.none;
  const behind = status.behindS === null ? null : ageText(status.behindS);
  switch (status.condition) {
    case 'streaming':
      return TEXTS.sensor.live;
    case 'catching-up':
      return behind === null ? TEXTS.sensor.catchingUp : TEXTS.sensor.behind(behind);
    case 'silent':
      return behind === null ? TEXTS.sensor.silentNever : TEXTS.sensor.silent(behind);
    case 'disconnected':
      return behind === null ? TEXTS.sensor.disconnectedNever : TEXTS.sensor.disconnected(behind);
    case 'never-seen':
      return TEXTS.sensor.neverSeen;
  }
}

/** The same where there is little room: why there is no current value. */
export function sensorWord(status: SensorStatus | null, stale: boolean): string {
  if (stale) return TEXTS.tilt.noConnection;
  if (status === null) return TEXTS.tilt.noSensor;
  if (status.condition === 'streaming') return TEXTS.tilt.noValue;
  return status.condition === 'catching-up' ? TEXTS.sensor.catchingUp : TEXTS.tilt.noSignal;
}

export function delivers({ condition }: SensorStatus): boolean {
  return condition === 'streaming' || condition === 'catching-up';
}

export function sensorDetails(status: SensorStatus): string[] {
  const details: string[] = [];
  if (status.lostSamples > 0) details.push(TEXTS.sensor.lost(status.lostSamples));
  const battery = status.batteryPercent === null ? null : TEXTS.sensor.battery(status.batteryPercent);
  // What a sensor that does not deliver has said of itself is of the past.
  if (!delivers(status)) return battery === null ? details : [...details, TEXTS.check.answer.lastKnown(battery)];
  if (battery !== null) details.push(battery);
  if (status.clockResidualMs !== null) details.push(TEXTS.sensor.clock(fixed(status.clockResidualMs, 2)));
  return details;
}

/** What is kept of each device, and what others are told of it. */
import { BATTERY_UNKNOWN, TEMPERATURE_UNKNOWN, type StatusMessage } from '@ambipede/firmware-protocol';
import type { Connection } from './connection.ts';
import type { SensorStream, StreamCounts } from './sensor-stream.ts';

export interface DeviceStatus {
  batteryPercent: number | null;
  temperatureC: number | null;
  /** Unacknowledged samples on the device, and how many it can keep. */
  bufferedSamples: number;
  bufferCapacity: number;
  /** Samples since boot that the device had to give up. */
  droppedSamples: number;
}

/** What is known of one sensor since this server started. */
export interface SensorState {
  deviceId: string;
  connected: boolean;
  bootId: number | null;
  rateHz: number | null;
  /** Time of the newest sample handed on, ms UTC. */
  newestUtcMs: number | null;
  receivedSamples: number;
  /** Samples that are missing for good. */
  lostSamples: number;
  /** Samples that had come before; a device sends again what was not acknowledged. */
  repeatedSamples: number;
  /** Samples that came after they had been given up. */
  lateSamples: number;
  status: DeviceStatus | null;
  /** Scatter of the clock fit in ms, one standard deviation; null before the fit. */
  clockResidualMs: number | null;
  clockSkewPpm: number | null;
  /** Samples received but not yet durable. */
  unstoredSamples: number;
}

/** One device as ingest keeps it; its stream outlives its connections. */
export interface Device {
  deviceId: string;
  connection: Connection | null;
  stream: SensorStream | null;
  /** Counts of the streams before this one. */
  earlier: StreamCounts;
  newestUtcMs: number | null;
  status: DeviceStatus | null;
}

export function deviceStatusOf(message: StatusMessage): DeviceStatus {
  const { batteryPercent, temperatureCentiC, bufferedSamples, bufferCapacity, droppedSamples } = message;
  return {
    batteryPercent: batteryPercent === BATTERY_UNKNOWN ? null : batteryPercent,
    temperatureC: temperatureCentiC === TEMPERATURE_UNKNOWN ? null : temperatureCentiC / 100,
    bufferedSamples,
    bufferCapacity,
    droppedSamples,
  };
}

export function sensorStateOf(device: Device, unstoredSamples: number): SensorState {
  const { deviceId, connection, stream, earlier, newestUtcMs, status } = device;
  const fit = stream?.clock.fit ?? null;
  return {
    deviceId,
    connected: connection?.phase === 'streaming',
    bootId: stream?.bootId ?? null,
    rateHz: stream?.rateHz ?? null,
    newestUtcMs,
    receivedSamples: earlier.received + (stream?.counts.received ?? 0),
    lostSamples: earlier.lost + (stream?.counts.lost ?? 0),
    repeatedSamples: earlier.duplicates + (stream?.counts.duplicates ?? 0),
    lateSamples: earlier.late + (stream?.counts.late ?? 0),
    status,
    clockResidualMs: fit?.residualMs ?? null,
    clockSkewPpm: fit ? -fit.skew * 1e6 : null,
    unstoredSamples,
  };
}

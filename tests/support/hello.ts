/** The hello of a device as the tests use it: 200 Hz, accelerometer and gyroscope, the finest scales. */
import {
  ACCEL_SCALE_MIN,
  CHANNELS_ACCEL_GYRO,
  GYRO_SCALE_MIN,
  MAGN_SCALE_NONE,
  type HelloMessage,
} from '@ambipede/firmware-protocol';

/** @param token as it was shown when the device was enrolled */
export function helloOf(deviceId: string, bootId: number, token = ''): HelloMessage {
  return {
    type: 'hello',
    deviceId,
    token: new Uint8Array(Buffer.from(token, 'ascii')),
    bootId,
    rateMilliHz: 200_000,
    accelScale: ACCEL_SCALE_MIN,
    gyroScale: GYRO_SCALE_MIN,
    magnScale: MAGN_SCALE_NONE,
    channels: CHANNELS_ACCEL_GYRO,
  };
}

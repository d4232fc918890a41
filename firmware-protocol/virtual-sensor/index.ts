export { hostNowMs } from './clock.ts';
export { startVirtualSensor } from './device.ts';
export type {
  BootReport,
  Reboot,
  SourceReading,
  VirtualSensor,
  VirtualSensorOptions,
  VirtualSensorState,
} from './options.ts';
export type { RadioSpan } from './radio.ts';
export type { Span } from './ring-buffer.ts';
export type { Reading } from '../src/sample-payload.ts';

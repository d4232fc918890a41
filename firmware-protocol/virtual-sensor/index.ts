export { hostNowMs } from './clock.ts';
export {
  startVirtualSensor,
  type SourceReading,
  type VirtualSensor,
  type VirtualSensorOptions,
  type VirtualSensorState,
} from './device.ts';
export type { Reading } from '../src/sample-payload.ts';

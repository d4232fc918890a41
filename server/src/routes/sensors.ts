import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { SensorService } from '../session/sensor-service.ts';
import { DeviceParams, PlacementBody } from './schemas.ts';

export function sensorRoutes(service: SensorService): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get('/api/sensors', () => service.sensors());
    app.put('/api/sensors/:deviceId', { schema: { params: DeviceParams, body: PlacementBody } }, (request) =>
      service.placeSensor(request.params.deviceId, request.body),
    );
  };
}

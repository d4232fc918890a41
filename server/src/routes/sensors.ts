import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { STAFF, STAFF_ROLES, athleteInBody, forAthlete } from '../access/rules.ts';
import type { EnrolmentService } from '../session/enrolment-service.ts';
import type { RefusedSensors } from '../session/refused-sensors.ts';
import type { SensorService } from '../session/sensor-service.ts';
import { DeviceParams, PlacementBody } from './schemas.ts';

export function sensorRoutes(
  service: SensorService,
  enrolment: EnrolmentService,
  refused: RefusedSensors,
): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get('/api/sensors', { config: { access: STAFF } }, () => service.sensors());
    app.put(
      '/api/sensors/:deviceId',
      {
        schema: { params: DeviceParams, body: PlacementBody },
        config: { access: forAthlete('measure', athleteInBody, STAFF_ROLES) },
      },
      (request) => service.placeSensor(request.params.deviceId, request.body),
    );
    app.post(
      '/api/sensors/:deviceId/enrolment',
      { schema: { params: DeviceParams }, config: { access: STAFF } },
      async (request, reply) => {
        // No cache on the way may keep the token.
        reply.code(201).header('cache-control', 'no-store');
        return enrolment.enrol(request.params.deviceId);
      },
    );
    app.delete(
      '/api/sensors/:deviceId/enrolment',
      { schema: { params: DeviceParams }, config: { access: STAFF } },
      (request) => enrolment.revoke(request.params.deviceId),
    );
    app.get('/api/refused-sensors', { config: { access: STAFF } }, () => refused.list());
  };
}

import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { Access } from '../access/access.ts';
import { callerOf } from '../access/guard.ts';
import { STAFF, STAFF_ROLES, athleteInBody, athleteOfDevice, forAthlete } from '../access/rules.ts';
import type { EnrolmentService } from '../session/enrolment-service.ts';
import type { RefusedSensors } from '../session/refused-sensors.ts';
import type { SensorService } from '../session/sensor-service.ts';
import { DeviceParams, PlacementBody } from './schemas.ts';

/** Who wears it may not be taken from whoever measures them. */
const OF_WEARER = forAthlete('measure', athleteOfDevice, STAFF_ROLES);

export function sensorRoutes(
  access: Access,
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
      async (request) => {
        const { deviceId } = request.params;
        const wearer = await access.lookups.ofDevice(deviceId);
        if (wearer !== 'none') await access.require(callerOf(request), wearer, 'measure', athleteOfDevice);
        return service.placeSensor(deviceId, request.body);
      },
    );
    app.post(
      '/api/sensors/:deviceId/enrolment',
      { schema: { params: DeviceParams }, config: { access: OF_WEARER } },
      async (request, reply) => {
        // No cache on the way may keep the token.
        reply.code(201).header('cache-control', 'no-store');
        return enrolment.enrol(request.params.deviceId);
      },
    );
    app.delete(
      '/api/sensors/:deviceId/enrolment',
      { schema: { params: DeviceParams }, config: { access: OF_WEARER } },
      (request) => enrolment.revoke(request.params.deviceId),
    );
    app.get('/api/refused-sensors', { config: { access: STAFF } }, () => refused.list());
  };
}

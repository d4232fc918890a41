/** A device is paired: somebody reads a short code off the screen and types it there, and the device asks for its token with it. */
import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { athleteOfDevice, forAthlete, openToAll, STAFF_ROLES } from '../access/rules.ts';
import { ApiProblem, conflict } from '../errors.ts';
import type { EnrolmentService } from '../session/enrolment-service.ts';
import { PAIRING_CODES_MAX, type PairingCodes } from '../session/pairing-codes.ts';
import { DeviceId, DeviceParams } from './schemas.ts';

/** Of one address, in a minute. */
export const PAIRINGS_A_MINUTE_MAX = 20;
/** With blanks and hyphens between, as people write it. */
const TYPED_CHARACTERS_MAX = 32;

const PairingBody = Type.Object(
  { deviceId: DeviceId, code: Type.String({ minLength: 1, maxLength: TYPED_CHARACTERS_MAX }) },
  { additionalProperties: false },
);

export function pairingRoutes(codes: PairingCodes, enrolment: EnrolmentService): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.post(
      '/api/sensors/:deviceId/pairing-code',
      { schema: { params: DeviceParams }, config: { access: forAthlete('measure', athleteOfDevice, STAFF_ROLES) } },
      async (request, reply) => {
        const { deviceId } = request.params;
        const opened = codes.open(deviceId);
        if (!opened)
          throw conflict(
            'too-many-codes',
            `${PAIRING_CODES_MAX} codes are open. Use one of them, or wait until they are no longer good.`,
          );
        reply.code(201).header('cache-control', 'no-store');
        return { deviceId, ...opened };
      },
    );
    app.post(
      '/api/pairing',
      {
        schema: { body: PairingBody },
        config: {
          access: openToAll('a pairing code takes the place of a sign-in', { fromPrograms: true }),
          rateLimit: { max: PAIRINGS_A_MINUTE_MAX, timeWindow: '1 minute' },
        },
      },
      async (request, reply) => {
        const { deviceId, code } = request.body;
        // One answer whatever was wrong: it does not tell which devices there are.
        if (!codes.redeem(deviceId, code))
          throw new ApiProblem(
            403,
            'wrong-code',
            'The code is not good for this device, or no longer. Make a new one on the page Sensors, and type it within ten minutes.',
          );
        const { token } = await enrolment.enrol(deviceId);
        reply.header('cache-control', 'no-store');
        return { token };
      },
    );
  };
}

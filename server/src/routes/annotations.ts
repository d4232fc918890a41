import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { FastifyRequest } from 'fastify';
import type { Annotation, AnnotationKind } from '@ambipede/shared';
import type { Access } from '../access/access.ts';
import { callerOf } from '../access/guard.ts';
import { isOfHealth, shownAnnotations } from '../access/health-notes.ts';
import { forAthlete } from '../access/rules.ts';
import { ApiProblem, notFound } from '../errors.ts';
import { faultOfAnnotation } from '../history/annotation-rules.ts';
import {
  addAnnotation,
  changeAnnotation,
  findAnnotation,
  listAnnotations,
  removeAnnotation,
} from '../store/annotations.ts';
import type { Db } from '../store/database.ts';
import { AnnotationChangeBody, AnnotationParams, NewAnnotationBody } from './annotation-schemas.ts';
import { IdParams } from './schemas.ts';

const LIST = '/api/athletes/:id/annotations';
const ONE = `${LIST}/:annotationId`;

const WRITE = forAthlete('measure');

export function annotationRoutes(db: Db, access: Access, nowUtcMs: () => number): FastifyPluginAsyncTypebox {
  /** Who may not see an injury or a pain may not write one either. */
  const requireSeen = async (request: FastifyRequest, kind: AnnotationKind): Promise<void> => {
    if (!isOfHealth(kind)) return;
    const { id } = request.params as { id: string };
    await access.require(callerOf(request), id, 'see-health', { what: 'athlete', list: '/api/athletes' });
  };
  const refuseFaulty = (annotation: Omit<Annotation, 'id'>): void => {
    const fault = faultOfAnnotation(annotation, nowUtcMs());
    if (fault !== null) throw new ApiProblem(400, 'invalid-annotation', fault);
  };
  return async (app) => {
    app.get(LIST, { schema: { params: IdParams }, config: { access: forAthlete('see') } }, async (request) => {
      const annotations = await listAnnotations(db, request.params.id);
      return shownAnnotations(annotations, await access.rightsOn(callerOf(request), request.params.id));
    });
    app.post(
      LIST,
      { schema: { params: IdParams, body: NewAnnotationBody }, config: { access: WRITE } },
      async (request, reply) => {
        const athleteId = request.params.id;
        await requireSeen(request, request.body.kind);
        const { side = null, painLevel = null, text = '', authorName, ...rest } = request.body;
        const createdUtcMs = Math.round(nowUtcMs());
        const annotation = { ...rest, athleteId, side, painLevel, text, authorName: authorName.trim(), createdUtcMs };
        refuseFaulty(annotation);
        reply.code(201);
        return addAnnotation(db, annotation);
      },
    );
    app.patch(
      ONE,
      { schema: { params: AnnotationParams, body: AnnotationChangeBody }, config: { access: WRITE } },
      async (request) => {
        const { id: athleteId, annotationId } = request.params;
        const { authorName, ...rest } = request.body;
        const change = authorName === undefined ? rest : { ...rest, authorName: authorName.trim() };
        const before = await findAnnotation(db, athleteId, annotationId);
        if (!before) throw notFound('annotation', LIST);
        await requireSeen(request, before.kind);
        refuseFaulty({ ...before, ...change });
        const after = await changeAnnotation(db, athleteId, annotationId, change);
        if (!after) throw notFound('annotation', LIST);
        return after;
      },
    );
    app.delete(ONE, { schema: { params: AnnotationParams }, config: { access: WRITE } }, async (request) => {
      const { id: athleteId, annotationId } = request.params;
      const annotation = await findAnnotation(db, athleteId, annotationId);
      if (annotation) await requireSeen(request, annotation.kind);
      if (!(await removeAnnotation(db, athleteId, annotationId))) throw notFound('annotation', LIST);
      return { id: annotationId };
    });
  };
}

import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { Annotation } from '@ambipede/shared';
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
import { requireAthlete } from './require-athlete.ts';
import { IdParams } from './schemas.ts';

const LIST = '/api/athletes/:id/annotations';
const ONE = `${LIST}/:annotationId`;

export function annotationRoutes(db: Db, nowUtcMs: () => number): FastifyPluginAsyncTypebox {
  const refuseFaulty = (annotation: Omit<Annotation, 'id'>): void => {
    const fault = faultOfAnnotation(annotation, nowUtcMs());
    if (fault !== null) throw new ApiProblem(400, 'invalid-annotation', fault);
  };
  return async (app) => {
    app.get(LIST, { schema: { params: IdParams } }, async (request) => {
      await requireAthlete(db, request.params.id);
      return listAnnotations(db, request.params.id);
    });
    app.post(LIST, { schema: { params: IdParams, body: NewAnnotationBody } }, async (request, reply) => {
      const athleteId = request.params.id;
      await requireAthlete(db, athleteId);
      const { side = null, painLevel = null, text = '', authorName, ...rest } = request.body;
      const createdUtcMs = Math.round(nowUtcMs());
      const annotation = { ...rest, athleteId, side, painLevel, text, authorName: authorName.trim(), createdUtcMs };
      refuseFaulty(annotation);
      reply.code(201);
      return addAnnotation(db, annotation);
    });
    app.patch(ONE, { schema: { params: AnnotationParams, body: AnnotationChangeBody } }, async (request) => {
      const { id: athleteId, annotationId } = request.params;
      const { authorName, ...rest } = request.body;
      const change = authorName === undefined ? rest : { ...rest, authorName: authorName.trim() };
      const before = await findAnnotation(db, athleteId, annotationId);
      if (!before) throw notFound('annotation', LIST);
      refuseFaulty({ ...before, ...change });
      const after = await changeAnnotation(db, athleteId, annotationId, change);
      if (!after) throw notFound('annotation', LIST);
      return after;
    });
    app.delete(ONE, { schema: { params: AnnotationParams } }, async (request) => {
      const { id: athleteId, annotationId } = request.params;
      if (!(await removeAnnotation(db, athleteId, annotationId))) throw notFound('annotation', LIST);
      return { id: annotationId };
    });
  };
}

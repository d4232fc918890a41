export * from './body.ts';
export * from './units.ts';
export * from './metrics.ts';
export * from './results.ts';
export * from './live.ts';
export * from './api.ts';
export * from './cautions.ts';
export { ALGORITHM_VERSION } from './version.ts';

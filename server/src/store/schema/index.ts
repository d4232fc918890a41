export * from './athletes.ts';
export * from './sensors.ts';
export * from './sessions.ts';
export * from './trials.ts';
export * from './stances.ts';
export * from './raw-batches.ts';

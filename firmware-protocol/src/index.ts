export * from './layout.ts';
export * from './rules.ts';
export * from './messages.ts';
export * from './errors.ts';
export * from './crc32c.ts';
export * from './encode.ts';
export * from './decode.ts';
export * from './sample-payload.ts';

import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: [
      'tests/**/*.test.ts',
      'server/src/**/*.test.ts',
      'firmware-protocol/**/*.test.ts',
      'shared/src/**/*.test.ts',
    ],
    testTimeout: 60_000,
    hookTimeout: 60_000,
    // Two cores: one for the tests, one for the servers and browsers that they start.
    maxWorkers: 2,
  },
});

/** For `npx drizzle-kit generate --config server/drizzle.config.ts --name what-changes`, run from the repository's root. */
import { defineConfig } from 'drizzle-kit';

export default defineConfig({
  dialect: 'postgresql',
  schema: './server/src/store/schema/index.ts',
  out: './server/src/store/migrations',
});

/** `npm start`: runs the server until it is told to stop. */
import { pino } from 'pino';
import type { FastifyInstance } from 'fastify';
import { buildApp } from './app.ts';
import { readConfig } from './config.ts';
import type { Config } from './config.ts';
import { SetupError, messageOf } from './errors.ts';
import { describeError } from './ops/safe-log.ts';
import { onStopSignal } from './stop-signals.ts';
import { openStore } from './store/open-store.ts';

const LOOPBACK = new Set(['127.0.0.1', '::1', 'localhost']);

const log = pino();

async function main(): Promise<void> {
  const config = readConfig();
  const opened: (() => Promise<unknown>)[] = [];
  let stopping = false;
  const end = async (exitCode: number): Promise<void> => {
    // A failure while it stops: PostgreSQL goes on alone and is taken over by the next start.
    if (stopping) process.exit(1);
    stopping = true;
    try {
      for (const close of opened.reverse()) await close();
    } catch (error) {
      log.error(messageOf(error));
      exitCode = 1;
    }
    process.exit(exitCode);
  };
  onStopSignal((signal) => {
    log.info(`stopping: ${signal}`);
    void end(0);
  });
  const fail = (error: unknown): Promise<void> => {
    if (error instanceof SetupError) log.fatal(error.message);
    else log.fatal({ err: describeError(error) }, 'the server could not go on');
    return end(1);
  };

  try {
    const store = await openStore(config, log, (problem) => void fail(new SetupError(problem)));
    opened.push(store.close);
    const app = await buildApp({ database: store.database, webDir: config.webDir, logger: log });
    opened.push(() => app.close());
    if (!LOOPBACK.has(config.host)) {
      log.warn(
        `HOST is ${config.host}: whoever reaches this address can see and change everything. There is no login yet.`,
      );
    }
    log.info(`the dashboard is at ${await listen(app, config)}`);
  } catch (error) {
    await fail(error);
  }
}

async function listen(app: FastifyInstance, { host, port }: Config): Promise<string> {
  try {
    return await app.listen({ host, port });
  } catch (error) {
    throw new SetupError(`Cannot listen on HOST ${host}, PORT ${port} (${messageOf(error)}). Choose another PORT.`);
  }
}

main().catch((error: unknown) => {
  log.fatal(messageOf(error));
  process.exitCode = 1;
});

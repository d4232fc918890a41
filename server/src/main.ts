/** `npm start`: runs the server until it is told to stop. */
import { pino } from 'pino';
import type { FastifyInstance } from 'fastify';
import { FIRST_LOGIN, makeFirstKeeper, removeFirstPassword } from './access/first-keeper.ts';
import { buildApp } from './app.ts';
import { readCertificate } from './certificate.ts';
import { isReachedByOthers, readConfig } from './config.ts';
import type { Config } from './config.ts';
import { erasedListIn } from './erased-list.ts';
import { SetupError, messageOf } from './errors.ts';
import { describeError } from './ops/safe-log.ts';
import { onStopSignal } from './stop-signals.ts';
import { openStore } from './store/open-store.ts';

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
    const { db } = store.database;
    const app = await buildApp({
      database: store.database,
      webDir: config.webDir,
      logger: log,
      access: {
        kind: 'accounts',
        publicUrl: config.publicUrl,
        keepersNeedSecondFactor: isReachedByOthers(config),
        onPasswordChanged: () => removeFirstPassword(db, config.dataDir),
      },
      tls: readCertificate(config),
      erasedList: erasedListIn(config.dataDir),
    });
    opened.push(() => app.close());
    const passwordFile = await makeFirstKeeper(db, config.dataDir, Date.now());
    if (config.plainHttp === 'accepted')
      log.warn(
        `HOST is ${config.host} and nothing is encrypted: whoever listens on this network reads passwords and health data.`,
      );
    const address = await listen(app, config);
    log.info(`the dashboard is at ${config.publicUrl ?? address}`);
    if (passwordFile !== null)
      log.info(
        `sign in as ${FIRST_LOGIN} with the password in ${passwordFile}, and change it; then make the other accounts`,
      );
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

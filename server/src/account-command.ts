/** npm run account -- new-password LOGIN, npm run account -- no-second-factor LOGIN */
import { parseArgs } from 'node:util';
import { giveNewPassword, takeSecondFactorAway } from './access/at-the-machine.ts';
import { reachBeside } from './backup/reach-database.ts';
import { runCommand, UsageError } from './backup/run-command.ts';
import { readConfig } from './config.ts';
import { SetupError, messageOf } from './errors.ts';
import { connect, type Sql } from './store/database.ts';
import { lastMigrationMs, listMigrations } from './store/migration-list.ts';
import { describePlace } from './store/take-database.ts';

const USAGE = `Usage: npm run account -- new-password LOGIN
       npm run account -- no-second-factor LOGIN

  new-password      gives the account a new first password and shows it, once; it has to be changed at the next sign-in
  no-second-factor  the password alone opens the account again

  Every sign-in of the account ends. For whoever has lost the keeper's password, or the phone with its codes, and can use this
  machine. The database is that of DATA_DIR or DATABASE_URL, as for npm start; the server may run meanwhile.`;

/** Throws SetupError for a database that cannot be reached, or is not of this version. */
async function requireThisVersion(sql: Sql, what: string): Promise<void> {
  const foundMs = await lastMigrationMs(sql).catch((error: unknown) => {
    throw new SetupError(`Cannot use ${what}: ${messageOf(error)}`);
  });
  if (foundMs !== Math.max(...listMigrations().map(({ whenMs }) => whenMs)))
    throw new SetupError(
      `The tables in ${what} are not those of this version. Start the server of this version once, then try again.`,
    );
}

await runCommand(USAGE, async () => {
  const { positionals } = parseArgs({ allowPositionals: true });
  const [what, login] = positionals;
  if (what !== 'new-password' && what !== 'no-second-factor') throw new UsageError();
  if (login === undefined || positionals.length > 2) throw new UsageError();
  const config = readConfig();
  const reached = await reachBeside(config);
  const database = connect(reached.url);
  try {
    await requireThisVersion(database.sql, describePlace(config));
    if (what === 'no-second-factor') {
      const taken = await takeSecondFactorAway(database.db, login, Date.now());
      return `The account ${taken.login} is opened by its password alone. Set up a second factor at the next sign-in.`;
    }
    const given = await giveNewPassword(database.db, login, config.dataDir, Date.now());
    // Here and in no file: it is for the person at this terminal, and a file would have to be thought of again.
    return `The new password of ${given.login} is ${given.password} and has to be changed at the next sign-in.`;
  } finally {
    await database.close();
    await reached.close();
  }
});

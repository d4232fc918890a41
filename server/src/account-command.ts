/** npm run account -- new-password LOGIN */
import { parseArgs } from 'node:util';
import { giveNewPassword } from './access/new-password.ts';
import { reachForReading } from './backup/reach-database.ts';
import { runCommand, UsageError } from './backup/run-command.ts';
import { readConfig } from './config.ts';
import { connect } from './store/database.ts';

const USAGE = `Usage: npm run account -- new-password LOGIN

  Gives the account a new first password and shows it, once. Every sign-in of the account ends; the password has to be changed
  at the next one. For whoever has lost the keeper's password and can use this machine. The database is that of DATA_DIR or
  DATABASE_URL, as for npm start; the server may run meanwhile.`;

await runCommand(USAGE, async () => {
  const { positionals } = parseArgs({ allowPositionals: true });
  const [what, login] = positionals;
  if (what !== 'new-password' || login === undefined || positionals.length > 2) throw new UsageError();
  const reached = await reachForReading(readConfig());
  const database = connect(reached.url);
  try {
    const password = await giveNewPassword(database.db, login, Date.now());
    return `The new password of ${login} is ${password} and has to be changed at the next sign-in.`;
  } finally {
    await database.close();
    await reached.close();
  }
});

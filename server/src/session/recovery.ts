/** After a start: takes up what the last run of the server left, cleanly ended or not. */
import type { Db } from '../store/database.ts';
import { durableUntilUtcMs } from '../store/raw-batches.ts';
import { dropOpenLeadIns, listOpenSessions, sessionDevices } from '../store/sessions.ts';
import { closeTrial, listIncompleteTrials, listTrialsInState } from '../store/trials.ts';
import { LATE_DATA_MS_MAX } from './finaliser.ts';
import type { Finaliser } from './finaliser.ts';
import type { PipelineRestarter } from './pipeline-restarter.ts';

export async function recover(
  db: Db,
  finaliser: Finaliser,
  restarter: PipelineRestarter,
  nowUtcMs: number,
): Promise<void> {
  await dropOpenLeadIns(db);
  for (const trial of await listTrialsInState(db, 'running')) {
    // Nobody could stop it: it ends with the last sample that is safe.
    let endUtcMs = trial.startedUtcMs;
    for (const deviceId of Object.values(await sessionDevices(db, trial.sessionId))) {
      endUtcMs = Math.max(endUtcMs, Math.min(nowUtcMs, (await durableUntilUtcMs(db, deviceId)) ?? 0));
    }
    await closeTrial(db, trial.id, Math.round(endUtcMs));
  }
  for (const trial of await listTrialsInState(db, 're-analysing')) finaliser.enqueue(trial.id);
  for (const trial of await listIncompleteTrials(db, Math.round(nowUtcMs - LATE_DATA_MS_MAX)))
    await finaliser.resume(trial);
  for (const session of await listOpenSessions(db)) await restarter.restart(session.athleteId);
}

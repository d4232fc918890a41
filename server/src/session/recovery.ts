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
    const devices = Object.values(await sessionDevices(db, trial.sessionId));
    const durable = (await durableUntilUtcMs(db, devices)).values();
    const endUtcMs = Math.max(trial.startedUtcMs, ...[...durable].map((until) => Math.min(nowUtcMs, until)));
    await closeTrial(db, trial.id, Math.round(endUtcMs));
  }
  for (const trial of await listTrialsInState(db, 're-analysing')) finaliser.enqueue(trial.id);
  for (const trial of await listIncompleteTrials(db, Math.round(nowUtcMs - LATE_DATA_MS_MAX)))
    await finaliser.resume(trial);
  for (const session of await listOpenSessions(db)) await restarter.restart(session.athleteId);
}

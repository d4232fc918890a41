/** What can happen to a sensor and its radio, each on a rig of its own. */
import { setTimeout as sleep } from 'node:timers/promises';
import type { RadioSpan, Reboot } from '@ambipede/firmware-protocol/virtual-sensor';
import type { Database } from '../../server/src/store/database.ts';
import { PLACES, type SessionView, type TrialSummary } from '../../shared/src/index.ts';
import { waitUntil } from '../support/wait-until.ts';
import type { FaultResult } from './fault-result.ts';
import { deviceOf, startRig, type Rig } from './rig.ts';

/** Movement seconds in a second of the test, for a radio that is away for a minute. */
const SPEED = 12;
/** From the start of the movement until all is over that was planned. */
const AFTER_S = 1;

/** Both sensors under the same radio; resolves when they have recovered from the last span. */
export async function badRadio(
  database: Database,
  fault: string,
  radioLoss: readonly RadioSpan[],
  speed = 1,
): Promise<FaultResult & { connections: number[]; log: string[] }> {
  const rig = await startRig(database, {
    speed,
    sensor: (place) => ({ radioLoss, seed: 3 + PLACES.indexOf(place), skewPpm: 30, driftPpm: 10 }),
  });
  try {
    const endS = Math.max(...radioLoss.map((span) => span.endS)) + AFTER_S;
    const isOver = (): boolean => Object.values(rig.sensors).every((each) => each.state().sampled > endS * 200);
    await waitUntil('the radio is back', isOver, 60_000);
    await rig.caughtUp();
    const result = await rig.finish(fault, radioLoss.length);
    const connections = PLACES.map((place) => rig.sensors[place].state().connections);
    return { ...result, connections, log: [...rig.api.log] };
  } finally {
    await rig.close();
  }
}

/** A minute without radio, then everything at once. */
export function minuteWithoutRadio(database: Database) {
  return badRadio(database, '60 s without radio, then a burst', [{ startS: 5, endS: 65 }], SPEED);
}

/** Sensors restart in the middle of a trial; the trial is stopped afterwards. */
export async function rebootInTrial(
  database: Database,
  reboots: readonly Reboot[],
): Promise<FaultResult & { trial: TrialSummary; boots: number[]; dropped: number }> {
  const rig = await startRig(database);
  try {
    const session = await rig.api.call<SessionView>('POST', '/api/sessions', { athleteId: rig.athleteId });
    const { id } = await rig.api.call<TrialSummary>('POST', `/api/sessions/${session.id}/trials`, { task: 'stand' });
    for (const reboot of reboots) {
      await acknowledgeMore(rig);
      for (const place of PLACES) rig.sensors[place].reboot(reboot);
    }
    await acknowledgeMore(rig);
    await rig.api.call('POST', `/api/trials/${id}/stop`);
    await sleep(300);
    const result = await rig.finish('reboot of the sensors in a trial', reboots.length * PLACES.length);
    const trial = await waitUntil('the trial is done', async () => {
      const found = await rig.api.call<TrialSummary>('GET', `/api/trials/${id}`);
      return found.state === 'final' || found.state === 'failed' ? found : null;
    });
    const states = PLACES.map((place) => rig.sensors[place].state());
    const dropped = states.reduce((sum, state) => sum + state.dropped, 0);
    return { ...result, trial, boots: states.map(({ boots }) => boots.length), dropped };
  } finally {
    await rig.close();
  }
}

async function acknowledgeMore(rig: Rig): Promise<void> {
  const before = PLACES.map((place) => rig.sensors[place].state().acknowledged);
  await waitUntil(`${PLACES.map(deviceOf).join(' and ')} go on`, () =>
    PLACES.every((place, i) => rig.sensors[place].state().acknowledged > (before[i] ?? 0) + 200),
  );
}

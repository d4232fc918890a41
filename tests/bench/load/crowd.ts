/**
 * The other side of the load benchmark, as a process of its own: athletes with two virtual sensors each, their coach, and a
 * dashboard per athlete that notes when each stance comes. Prints one line of JSON.
 *
 *   crowd.ts URL COOKIE ATHLETES SLOW_VIEWERS
 */
import { setTimeout as sleep } from 'node:timers/promises';
import { LIVE_CLOSE, PLACES, type LiveMessage } from '../../../shared/src/index.ts';
import {
  randomAthlete,
  readingsOf,
  realistic,
  simulateSession,
  type ScriptStep,
} from '../../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { hostNowMs, startVirtualSensor, type VirtualSensor } from '../../../firmware-protocol/virtual-sensor/index.ts';
import { WebSocket } from 'ws';
import { Person, newAthleteOf } from '../../support/people.ts';
import type { CrowdReport } from './report.ts';

/** Bodies that are simulated; the crowd shares them, each beginning at another moment. */
const BODIES = 4;
const STAGGER_MS = 137;
/** Time for all to connect before the movement begins. */
const HEAD_START_MS = 3000;
/** Stances come late by what is not yet sent; the last ones are waited for. */
const TAIL_MS = 3000;

const SCRIPT: ScriptStep[] = [
  { kind: 'reference_stand', seconds: 5 },
  { kind: 'forward_bow', seconds: 9 },
  { kind: 'pause', seconds: 2 },
  { kind: 'walk', seconds: 25, cadencePerMin: 110 },
  { kind: 'pause', seconds: 2 },
  { kind: 'run', seconds: 40, cadencePerMin: 172, speedMps: 3.6 },
  { kind: 'pause', seconds: 2 },
];

const [, , url = '', cookie = '', athletesText = '', slowText = '0'] = process.argv;
const coachOfAll = new Person(url);
coachOfAll.cookie = cookie;
const bodies = Array.from({ length: BODIES }, (_, i) =>
  simulateSession({
    seed: 100 + i,
    athlete: randomAthlete(100 + i),
    sensors: { pelvis: realistic('pelvis', 200 + i), sternum: realistic('sternum', 300 + i) },
    script: SCRIPT,
  }),
);

interface Stance {
  toeOffUtcMs: number;
  delayMs: number;
}

interface Member {
  athleteId: string;
  sessionId: string;
  baseUtcMs: number;
  tokens: Record<string, string>;
  sensors: VirtualSensor[];
  stances: Map<string, Stance>;
}

async function join(i: number): Promise<Member> {
  const athleteId = await newAthleteOf(coachOfAll, `Load ${i}`);
  const tokens: Record<string, string> = {};
  for (const place of PLACES) {
    const path = `/api/sensors/load-${i}-${place}`;
    tokens[place] = (await coachOfAll.call<{ token: string }>('POST', `${path}/enrolment`)).token;
    await coachOfAll.call('PUT', path, { athleteId, place });
  }
  const session = await coachOfAll.call<{ id: string; startedUtcMs: number }>('POST', '/api/sessions', { athleteId });
  return {
    athleteId,
    sessionId: session.id,
    baseUtcMs: session.startedUtcMs,
    tokens,
    sensors: [],
    stances: new Map(),
  };
}

function openFeed({ athleteId }: Member): WebSocket {
  const headers = { cookie: coachOfAll.cookie, origin: url };
  return new WebSocket(`${url.replace('http', 'ws')}/live?athlete=${athleteId}`, { headers });
}

function watch(member: Member): WebSocket {
  const socket = openFeed(member);
  socket.on('message', (data) => {
    const message = JSON.parse(String(data)) as LiveMessage;
    if (message.type !== 'stance' || message.withdrawn) return;
    const key = `${message.trialId} ${message.stance.id}`;
    if (member.stances.has(key)) return;
    const toeOffUtcMs = member.baseUtcMs + message.stance.toeOff * 1000;
    member.stances.set(key, { toeOffUtcMs, delayMs: hostNowMs() - toeOffUtcMs });
  });
  return socket;
}

/** A viewer that opens the door and never reads. */
function watchSlowly(member: Member): { socket: WebSocket; closedWith: () => number | null } {
  const socket = openFeed(member);
  let code: number | null = null;
  socket.on('close', (closeCode) => (code = closeCode));
  socket.on('error', () => undefined);
  socket.once('open', () => socket.pause());
  return { socket, closedWith: () => code };
}

async function coach(member: Member, body: (typeof bodies)[number], startMs: number): Promise<void> {
  for (const mark of body.marks) {
    await sleep(Math.max(0, startMs + mark.startS * 1000 - hostNowMs()));
    const isTrial = mark.kind === 'walk' || mark.kind === 'run';
    if (!isTrial && mark.kind !== 'reference_stand' && mark.kind !== 'forward_bow') continue;
    const sessionPath = `/api/sessions/${member.sessionId}`;
    const trial = isTrial
      ? await coachOfAll.call<{ id: string }>('POST', `${sessionPath}/trials`, { task: mark.kind })
      : await coachOfAll.call<{ id: string }>('POST', `${sessionPath}/lead-in/${mark.kind}/start`);
    await sleep(Math.max(0, startMs + mark.endS * 1000 - hostNowMs()));
    await coachOfAll.call(
      'POST',
      isTrial ? `/api/trials/${trial.id}/stop` : `${sessionPath}/lead-in/${mark.kind}/stop`,
    );
  }
}

const count = Number(athletesText);
const members: Member[] = [];
for (let i = 0; i < count; i += 1) members.push(await join(i));
const viewers = members.map(watch);
const firstMs = hostNowMs() + HEAD_START_MS;
const starts = members.map((_, i) => firstMs + ((i * STAGGER_MS) % 4000));
members.forEach((member, i) => {
  const body = bodies[i % BODIES]!;
  member.sensors = PLACES.map((place) =>
    startVirtualSensor({
      deviceId: `load-${i}-${place}`,
      token: member.tokens[place]!,
      url: `${url.replace('http', 'ws')}/ingest`,
      rateHz: body.rateHz,
      source: readingsOf(body.streams[place]!),
      startMs: starts[i]!,
      skewPpm: ((i * 7) % 40) - 20,
      seed: i + 1,
    }),
  );
});
const slow = members.slice(0, Number(slowText)).map(watchSlowly);
await Promise.all(members.map((member, i) => coach(member, bodies[i % BODIES]!, starts[i]!)));
const finished = await Promise.all(members.flatMap((member) => member.sensors.map((sensor) => sensor.finished)));
await sleep(TAIL_MS);

// What a slow viewer had not read before it was cut off comes first, the close after it.
for (const { socket } of slow) socket.resume();
await sleep(TAIL_MS);
const report: CrowdReport = {
  delaysMs: members.flatMap((member) => [...member.stances.values()].map(({ delayMs }) => delayMs)),
  sampled: finished.reduce((sum, each) => sum + each.sampled, 0),
  acknowledged: finished.reduce((sum, each) => sum + each.acknowledged, 0),
  problems: finished.filter((each) => each.problem !== null).length,
  reconnects: finished.reduce((sum, each) => sum + each.connections - 1, 0),
  slowViewersCutOff: slow.filter(({ closedWith }) => [LIVE_CLOSE.tooSlow as number, 1006].includes(closedWith() ?? 0))
    .length,
  crowdCpuS: process.cpuUsage().user / 1e6 + process.cpuUsage().system / 1e6,
};
for (const viewer of viewers) viewer.close();
// A pipe takes so much only by and by.
process.stdout.write(JSON.stringify(report), () => process.exit(0));

/** An ingest server of its own on a free loopback port, over a log in memory that can be told to fail. */
import { once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { WebSocketServer, type WebSocket } from 'ws';
import { Ingest, type IngestDependencies } from '../../server/src/ingest/ingest.ts';
import { acceptSensorSocket } from '../../server/src/ingest/ingest-socket.ts';
import { INGEST_SOCKET_OPTIONS } from '../../server/src/ingest/limits.ts';
import type { RawBatch, RawLog, StreamEnd } from '../../server/src/ingest/raw-log.ts';
import type { TimedSample } from '../../server/src/ingest/raw-samples.ts';

/** Holds the log to its contract: what overlaps or runs back is refused. */
export class MemoryLog implements RawLog {
  readonly batches: RawBatch[];
  /** Rejects without storing. */
  failing = false;
  /** Stores the next group and then rejects: a commit whose answer was lost. */
  losesAnswer = false;
  /** Rejects the batches of this device only. */
  refusedDevice: string | null = null;

  constructor(batches: readonly RawBatch[] = []) {
    this.batches = [...batches];
  }

  async append(batches: readonly RawBatch[]): Promise<void> {
    await new Promise((resolve) => setTimeout(resolve, 2));
    if (this.failing) throw new Error('the disk is full');
    if (batches.some((batch) => batch.deviceId === this.refusedDevice)) throw new Error('this device is not known');
    const ends = new Map<string, StreamEnd>();
    for (const batch of batches) {
      const key = `${batch.deviceId} ${batch.bootId}`;
      const end = ends.get(key) ?? this.endOf(batch.deviceId, batch.bootId);
      if (end && batch.firstSequence < end.nextSequence) throw new Error(`overlap at ${batch.firstSequence}`);
      if (end && batch.firstUtcMs < end.endUtcMs) throw new Error(`time runs back at ${batch.firstSequence}`);
      ends.set(key, { nextSequence: batch.firstSequence + batch.count, endUtcMs: batch.endUtcMs });
    }
    this.batches.push(...batches);
    if (this.losesAnswer) {
      this.losesAnswer = false;
      throw new Error('the connection was lost');
    }
  }

  async streamEnd(deviceId: string, bootId: number): Promise<StreamEnd | null> {
    if (this.failing) throw new Error('the disk is full');
    return this.endOf(deviceId, bootId);
  }

  endOf(deviceId: string, bootId: number): StreamEnd | null {
    const last = this.batches.findLast((batch) => batch.deviceId === deviceId && batch.bootId === bootId);
    return last ? { nextSequence: last.firstSequence + last.count, endUtcMs: last.endUtcMs } : null;
  }

  of(deviceId: string): RawBatch[] {
    return this.batches.filter((batch) => batch.deviceId === deviceId);
  }
}

export interface IngestBench {
  url: string;
  ingest: Ingest;
  log: MemoryLog;
  live: Map<string, TimedSample[]>;
  problems: string[];
  sockets: Set<WebSocket>;
  stop(): Promise<void>;
}

export async function startIngestBench({
  port = 0,
  ...more
}: Partial<IngestDependencies> & { log?: MemoryLog; port?: number } = {}): Promise<IngestBench> {
  const log = more.log ?? new MemoryLog();
  const live = new Map<string, TimedSample[]>();
  const problems: string[] = [];
  const ingest = new Ingest({
    admits: () => true,
    onSamples: (deviceId, samples) => {
      live.set(deviceId, [...(live.get(deviceId) ?? []), ...samples]);
    },
    onStatus: () => {},
    onSensorChange: () => {},
    onProblem: (text) => problems.push(text),
    ...more,
    log,
  });
  const server = new WebSocketServer({ host: '127.0.0.1', port, ...INGEST_SOCKET_OPTIONS });
  const sockets = new Set<WebSocket>();
  server.on('connection', (socket) => {
    sockets.add(socket);
    acceptSensorSocket(socket, ingest);
  });
  await once(server, 'listening');
  return {
    url: `ws://127.0.0.1:${(server.address() as AddressInfo).port}/ingest`,
    ingest,
    log,
    live,
    problems,
    sockets,
    async stop() {
      await ingest.close();
      for (const socket of sockets) socket.terminate();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}

/** The demo athlete's movement without an end: parts that follow each other, each made while the one before is played. */
import { once } from 'node:events';
import type { Worker } from 'node:worker_threads';
import type { Place } from '@ambipede/shared';
import type { Reading } from '@ambipede/firmware-protocol/virtual-sensor';
import { readingsOf } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { startTypescriptWorker } from '../typescript-worker.ts';
import type { Movement, MovementRequest } from './movement-worker.ts';

export interface Part {
  /** Seconds from the start of the first part. */
  startS: number;
  durationS: number;
  movement: Movement;
}

/** Parts behind the sensors by this many are let go. */
const PARTS_KEPT = 3;

export class EndlessMovement {
  readonly rateHz: number;
  readonly #worker: Worker;
  readonly #parts = new Map<number, Part>();
  #next: number;
  #ordered = false;
  #onPart: (part: Part) => void = () => undefined;

  private constructor(worker: Worker, first: Movement) {
    this.#worker = worker;
    this.rateHz = first.rateHz;
    this.#next = 1;
    this.#parts.set(0, { startS: 0, durationS: durationOf(first), movement: first });
  }

  static async begin(): Promise<EndlessMovement> {
    const worker = startTypescriptWorker(new URL('./movement-worker.ts', import.meta.url));
    worker.postMessage({ part: 0 } satisfies MovementRequest);
    const [first] = (await once(worker, 'message')) as [Movement];
    const movement = new EndlessMovement(worker, first);
    worker.on('message', (more: Movement) => movement.#append(more));
    movement.#order();
    return movement;
  }

  /** Called for every part, the first at once. */
  onPart(listener: (part: Part) => void): void {
    this.#onPart = listener;
    for (const part of this.#parts.values()) listener(part);
  }

  /** One sensor's readings, a slot each; null where the next part is not ready in time. */
  *readings(place: Place): Generator<Reading | null> {
    for (let index = 0; ; index++) {
      while (!this.#parts.has(index)) yield null;
      if (index === this.#next - 1) this.#order();
      yield* readingsOf(this.#parts.get(index)!.movement.streams[place]);
    }
  }

  async close(): Promise<void> {
    await this.#worker.terminate();
  }

  #order(): void {
    if (this.#ordered) return;
    this.#ordered = true;
    this.#worker.postMessage({ part: this.#next } satisfies MovementRequest);
  }

  #append(movement: Movement): void {
    const before = this.#parts.get(this.#next - 1)!;
    const part = { startS: before.startS + before.durationS, durationS: durationOf(movement), movement };
    this.#parts.set(this.#next, part);
    this.#parts.delete(this.#next - PARTS_KEPT);
    this.#next += 1;
    this.#ordered = false;
    this.#onPart(part);
  }
}

function durationOf({ streams, rateHz }: Movement): number {
  return streams.pelvis.ax.length / rateHz;
}

/** Runs final analyses one after the other in a thread of their own. */
import type { Worker } from 'node:worker_threads';
import type { DatasetNames } from '../exchange/motion-bids-writer.ts';
import { startTypescriptWorker } from '../typescript-worker.ts';
import type { StoredResult } from '../store/save-result.ts';
import type { buildRecording } from './recording.ts';

export type RecordingInputs = Parameters<typeof buildRecording>;

export interface AnalysisRequest {
  jobId: number;
  inputs: RecordingInputs;
  wanted: 'stored' | 'json' | { dataset: DatasetNames };
}

export type AnalysisReply = { jobId: number } & (
  { result: StoredResult } | { json: string } | { tar: Uint8Array[] } | { error: string }
);

/** A recording that cannot be analysed; the message is for people. */
export class AnalysisFailure extends Error {
  override name = 'AnalysisFailure';
}

interface Job {
  resolve: (reply: AnalysisReply) => void;
  reject: (error: Error) => void;
}

export class AnalysisThread {
  #worker: Worker | null = null;
  readonly #jobs = new Map<number, Job>();
  #nextJobId = 1;

  /** Throws AnalysisFailure when there can be no result. */
  async analyse(inputs: RecordingInputs): Promise<StoredResult> {
    const reply = await this.#ask(inputs, 'stored');
    if ('result' in reply) return reply.result;
    throw new AnalysisFailure('error' in reply ? reply.error : 'unexpected reply');
  }

  /** The whole AnalysisResult as JSON text. Throws AnalysisFailure when there can be none. */
  async analyseToJson(inputs: RecordingInputs): Promise<string> {
    const reply = await this.#ask(inputs, 'json');
    if ('json' in reply) return reply.json;
    throw new AnalysisFailure('error' in reply ? reply.error : 'unexpected reply');
  }

  /** The raw samples as a Motion-BIDS dataset, the pieces of a tar archive. Throws AnalysisFailure when there can be none. */
  async exportMotionBids(inputs: RecordingInputs, names: DatasetNames): Promise<Uint8Array[]> {
    const reply = await this.#ask(inputs, { dataset: names });
    if ('tar' in reply) return reply.tar;
    throw new AnalysisFailure('error' in reply ? reply.error : 'unexpected reply');
  }

  async close(): Promise<void> {
    await this.#worker?.terminate();
  }

  #ask(inputs: RecordingInputs, wanted: AnalysisRequest['wanted']): Promise<AnalysisReply> {
    const worker = (this.#worker ??= this.#start());
    const jobId = this.#nextJobId++;
    return new Promise((resolve, reject) => {
      this.#jobs.set(jobId, { resolve, reject });
      worker.postMessage({ jobId, inputs, wanted } satisfies AnalysisRequest);
    });
  }

  #start(): Worker {
    const worker = startTypescriptWorker(new URL('./analysis-worker.ts', import.meta.url));
    worker.unref();
    worker.on('message', (reply: AnalysisReply) => {
      const job = this.#jobs.get(reply.jobId);
      this.#jobs.delete(reply.jobId);
      job?.resolve(reply);
    });
    worker.on('error', (error) => this.#drop(worker, error));
    worker.on('exit', () => this.#drop(worker, new Error('the analysis thread ended')));
    return worker;
  }

  /** The next request starts a new thread. */
  #drop(worker: Worker, error: Error): void {
    if (this.#worker !== worker) return;
    this.#worker = null;
    for (const job of this.#jobs.values()) job.reject(new AnalysisFailure(`The analysis broke off: ${error.message}`));
    this.#jobs.clear();
  }
}

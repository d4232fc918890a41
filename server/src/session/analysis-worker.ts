/** Entry of the analysis thread: raw batches in, results or recordings out. The sensors' packets are not kept waiting meanwhile. */
import { setPriority } from 'node:os';
import { parentPort } from 'node:worker_threads';
import { analyseRecording } from '../analysis.ts';
import { messageOf } from '../errors.ts';
import { motionBidsFiles } from '../exchange/motion-bids-writer.ts';
import { tarOf } from '../exchange/tar.ts';
import type { AnalysisReply, AnalysisRequest } from './analysis-thread.ts';
import { buildRecording } from './recording.ts';

if (!parentPort) throw new Error('analysis-worker.ts runs as a worker thread only');
const port = parentPort;

/** Steps of `nice` below the thread that takes the packets, as many as there are: where both share a core, the packets come first. */
const NICENESS = 19;
// Linux sets the priority of the calling thread alone; elsewhere it would be that of the whole server.
if (process.platform === 'linux') setPriority(NICENESS);

port.on('message', (request: AnalysisRequest) => {
  const reply = answer(request);
  // Handed over, not copied.
  port.postMessage(reply, 'tar' in reply ? reply.tar.map((piece) => piece.buffer as ArrayBuffer) : []);
});

function answer({ jobId, inputs, wanted }: AnalysisRequest): AnalysisReply {
  try {
    const recording = buildRecording(...inputs);
    if (!recording.streams.pelvis) {
      const error =
        'No samples of the pelvis sensor are stored for this trial: check that it is switched on and placed on this athlete.';
      return { jobId, error };
    }
    if (typeof wanted === 'object') {
      const modifiedS = wanted.dataset.zeroUtcMs / 1000 + recording.spanS[1];
      return { jobId, tar: tarOf(motionBidsFiles(recording, wanted.dataset), modifiedS) };
    }
    const result = analyseRecording(recording);
    if (wanted === 'json') return { jobId, json: JSON.stringify(result) };
    const { version, stances, asymmetry, quality, taskSummary, waveforms } = result;
    return { jobId, result: { version, stances, asymmetry, quality, taskSummary, waveforms } };
  } catch (error) {
    return {
      jobId,
      error: `${typeof wanted === 'object' ? 'The export' : 'The analysis'} failed; the raw data is kept: ${messageOf(error)}`,
    };
  }
}

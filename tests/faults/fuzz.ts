/** The properties that fuzzing looks for breaches of; the tests run thousands of cases, the benchmark millions. */
import fc from 'fast-check';
import { PROTOCOL_ERRORS, decode, encode, type Message } from '@ambipede/firmware-protocol';
import { Connection, type ConnectionOwner } from '../../server/src/ingest/connection.ts';
import { acceptExchange, acceptSamples, finishStream, openStream } from '../../server/src/ingest/sensor-stream.ts';
import { anyFrame, deviceMessage, frameOf, hello, samplesMessage } from './fuzz-frames.ts';

export interface Fuzz {
  name: string;
  /** Throws with the smallest case found and its seed when the property does not hold. */
  run(cases: number, seed: number): void;
}

const START_MS = 1_790_000_000_000;

/** Any bytes are a message that encodes to the same bytes, or an error of the catalogue. It never throws. */
const decoder: Fuzz = {
  name: 'decoder: any bytes',
  run: (numRuns, seed) =>
    fc.assert(
      fc.property(anyFrame, (bytes) => {
        const decoded = decode(bytes);
        if (!decoded.ok) return decoded.error.name in PROTOCOL_ERRORS && decoded.error.text.length > 0;
        return Buffer.compare(encode(decoded.message), bytes) === 0;
      }),
      { numRuns, seed },
    ),
};

type Step = { frame: Uint8Array; binary: boolean } | 'answerTime';
const step: fc.Arbitrary<Step> = fc.oneof(
  { weight: 4, arbitrary: deviceMessage.map((message) => ({ frame: frameOf(message), binary: true })) },
  { weight: 3, arbitrary: anyFrame.map((frame) => ({ frame, binary: true })) },
  { weight: 1, arbitrary: anyFrame.map((frame) => ({ frame, binary: false })) },
  { weight: 2, arbitrary: fc.constant('answerTime' as const) },
);

/** In a connection every frame is handed on once, or answered with an error; after the close nothing is taken. */
const connection: Fuzz = {
  name: 'connection: any frames in any order',
  run: (numRuns, seed) =>
    fc.assert(
      fc.property(fc.boolean(), fc.array(step, { maxLength: 12 }), (greets, steps) => {
        const door = makeDoor();
        if (greets) door.connection.takeFrame(encode(hello), true);
        for (const each of steps) {
          const wasClosed = door.closes > 0;
          const before = door.handedOn + door.errors;
          if (each === 'answerTime') {
            const answer = door.answer();
            if (!answer) continue;
            door.connection.takeFrame(answer, true);
          } else {
            door.connection.takeFrame(each.frame, each.binary);
          }
          const after = door.handedOn + door.errors;
          // The last kept error that is allowed is followed by one that says so.
          const dealtWith = after - before >= 1 && after - before <= 2;
          if (wasClosed ? after !== before : !dealtWith) return false;
        }
        return door.closes <= 1 && door.errors === door.told;
      }),
      { numRuns, seed },
    ),
};

/** A connection whose owner only counts. */
function makeDoor() {
  const door = {
    handedOn: 0,
    /** Errors as the owner heard of them, and as they were sent. */
    errors: 0,
    told: 0,
    closes: 0,
    connection: null as unknown as Connection,
    request: null as (Message & { type: 'timeRequest' }) | null,
    answer: (): Uint8Array | null => {
      door.connection.requestTime();
      const request = door.request;
      door.request = null;
      if (!request) return null;
      const { exchangeId, serverUtcUs } = request;
      return encode({ type: 'timeResponse', exchangeId, serverUtcUs, receiveTickUs: 1000, transmitTickUs: 1000 });
    },
  };
  const handOn = (): void => {
    door.handedOn += 1;
  };
  const owner: ConnectionOwner = {
    nowUtcMs: () => START_MS,
    onHello: (connection) => {
      handOn();
      connection.welcome(0);
    },
    onSamples: handOn,
    onStatus: handOn,
    onExchange: handOn,
    onGoodbye: (connection) => {
      handOn();
      connection.end(1000, 'goodbye');
    },
    onProtocolError: () => {
      door.errors += 1;
    },
  };
  const port = {
    send: (frame: Uint8Array): void => {
      const decoded = decode(frame);
      if (!decoded.ok) throw new Error(`the server sent a bad frame: ${decoded.error.text}`);
      if (decoded.message.type === 'error') door.told += 1;
      if (decoded.message.type === 'timeRequest') door.request = decoded.message;
    },
    close: (): void => {
      door.closes += 1;
    },
  };
  door.connection = new Connection(port, owner);
  return door;
}

/** In a stream every sample is passed on, a repetition, too late, or waiting; those passed on ascend without overlap. */
const stream: Fuzz = {
  name: 'stream: samples in any order',
  run: (numRuns, seed) =>
    fc.assert(
      fc.property(fc.array(samplesMessage, { maxLength: 14 }), fc.nat(14), (messages, clockAt) => {
        const state = openStream(hello, null);
        let sent = 0;
        let passedOn = 0;
        let next = 0;
        const take = (outputs: ReturnType<typeof acceptSamples>): 'goes on' | 'ends' | 'broken' => {
          for (const output of outputs) {
            if (output.kind === 'fault') return 'ends';
            if (output.kind !== 'batch') continue;
            if (output.batch.firstSequence < next || output.batch.endUtcMs < output.batch.firstUtcMs) return 'broken';
            next = output.batch.firstSequence + output.batch.count;
            passedOn += output.batch.count;
          }
          return 'goes on';
        };
        const nowMs = START_MS + 3e10;
        for (const [i, message] of messages.entries()) {
          if (i === clockAt) for (let k = 0; k < 8; k++) if (take(exchange(state, k)) !== 'goes on') return true;
          sent += message.count;
          const how = take(acceptSamples(state, message, nowMs));
          // A fault ends the connection: the device sends again what was not acknowledged.
          if (how !== 'goes on') return how === 'ends';
          const { received, duplicates, late } = state.counts;
          const waiting = state.order.waiting.reduce((sum, { count }) => sum + count, 0);
          if (received !== passedOn || sent !== received + duplicates + late + waiting + state.heldSamples)
            return false;
        }
        return take(finishStream(state, nowMs)) !== 'broken';
      }),
      { numRuns, seed },
    ),
};

function exchange(state: ReturnType<typeof openStream>, k: number): ReturnType<typeof acceptExchange> {
  const atMs = START_MS + k * 40;
  const tickUs = k * 40_000;
  return acceptExchange(state, { t1UtcMs: atMs - 1, t2TickUs: tickUs, t3TickUs: tickUs, t4UtcMs: atMs + 1 });
}

export const FUZZES: readonly Fuzz[] = [decoder, connection, stream];

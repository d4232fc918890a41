/** Limits of ingest. Those that a device can run into are in firmware-protocol/SPEC.md under the same names. */
import { FRAME_BYTES_MAX } from '@ambipede/firmware-protocol';

/** A socket that has not said hello by then is closed. */
export const HELLO_WAIT_MS = 5000;
/** How long a hello waits for the log to say where the stream ends before streaming starts without knowing. */
export const LOG_ANSWER_WAIT_MS = 1000;
/** No frame for this long: the connection is dead, whatever TCP says. Time requests are due every second. */
export const SILENCE_MS = 10_000;
/** How long a closing handshake may take before the socket is torn down. */
export const CLOSE_WAIT_MS = 2000;

/** Every frame costs its samples plus this; the allowance refills at the rate and holds at most the burst. */
export const FRAME_COST = 10;
export const ALLOWANCE_PER_SECOND = 40_000;
export const ALLOWANCE_BURST = 120_000;
/** Errors that keep the connection, before it is closed after all. */
export const KEPT_ERRORS_MAX = 32;
/** Answers that a device has not read, in bytes. */
export const UNREAD_BYTES_MAX = 65_536;
/** Sockets at the same time. */
export const CONNECTIONS_MAX = 1000;
/** Devices remembered after their socket has gone. */
export const DEVICES_REMEMBERED_MAX = 2000;

/** How far a sample may arrive before an earlier one of its stream. */
export const ORDER_WINDOW_SAMPLES = 1000;
/** Samples that wait for the first clock fit before the connection is given up. */
export const CLOCK_WAIT_SAMPLES = 4000;

/** Samples not yet durable, of one stream and of all together. Beyond it the device keeps them for us. */
export const QUEUE_STREAM_SAMPLES_MAX = 24_000;
export const QUEUE_SAMPLES_MAX = 2_000_000;
/** Group commit: how long the first batch waits for company, and how many go at once. */
export const GROUP_WAIT_MS = 30;
export const GROUP_BATCHES_MAX = 2000;
/** Pause after a failed append, doubled up to the maximum. */
export const RETRY_MS_MIN = 100;
export const RETRY_MS_MAX = 5000;

/** For the WebSocket server that carries ingest: small frames, no compression, so no memory spent on either. */
export const INGEST_SOCKET_OPTIONS = { maxPayload: FRAME_BYTES_MAX, perMessageDeflate: false } as const;

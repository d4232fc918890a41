/** Rules that a device keeps by itself: SPEC.md names them, the C header has the same values. */
import { ERROR_TEXT_BYTES_MAX, LAYOUTS, fixedBytes } from './layout.ts';

/** A server gives out tokens of at least so many bytes; a shorter one is carried, and refused. */
export const TOKEN_BYTES_MIN = 16;
/** The longest frame that the server sends: what a device needs room for. */
export const SERVER_FRAME_BYTES_MAX = fixedBytes(LAYOUTS.error) + ERROR_TEXT_BYTES_MAX;

/** A device that hears nothing for so long gives the connection up. */
export const SERVER_SILENCE_MS = 5000;
/** Pause before a reconnect: random below a bound that begins at the first and doubles up to the second. */
export const RECONNECT_PAUSE_MS_MIN = 200;
export const RECONNECT_PAUSE_MS_MAX = 5000;
/** Pause after an answer that trying again soon cannot change. */
export const REFUSED_PAUSE_MS = 60_000;
/** How often a samples frame may be refused before the device gives its samples up. */
export const REFUSALS_MAX = 3;

/** Text files of a Motion-BIDS dataset: numbers that are read back to the same bits, rows of samples in pieces. */
import type { ImuSample } from '../motion/types.ts';

/** Rows in one piece of text: what is made and encoded at a time. */
export const ROWS_PER_PART = 5000;

const encoder = new TextEncoder();

export function encoded(text: string): Uint8Array {
  return encoder.encode(text);
}

/** The shortest text that is read back to the same double (ECMA-262, Number::toString); `n/a` where there is none. */
export function numberText(value: number | null): string {
  return value !== null && Number.isFinite(value) ? String(value) : 'n/a';
}

export function tableText(rows: readonly (readonly string[])[]): Uint8Array {
  return encoded(rows.map((row) => `${row.join('\t')}\n`).join(''));
}

export function jsonText(value: unknown): Uint8Array {
  return encoded(`${JSON.stringify(value, null, 2)}\n`);
}

/** Time and the six values of each sample, tab-separated, without a header. */
export function motionParts(samples: readonly ImuSample[]): Uint8Array[] {
  const parts: Uint8Array[] = [];
  for (let from = 0; from < samples.length; from += ROWS_PER_PART) {
    let text = '';
    for (const { tS, ax, ay, az, gx, gy, gz } of samples.slice(from, from + ROWS_PER_PART))
      text += `${[tS, ax, ay, az, gx, gy, gz].map(numberText).join('\t')}\n`;
    parts.push(encoded(text));
  }
  return parts;
}

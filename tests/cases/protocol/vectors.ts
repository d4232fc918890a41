/** The test vectors of firmware-protocol, made from SPEC.md in another language (vectors/make_vectors.py). */
import { readFileSync } from 'node:fs';
import type { MessageType, ProtocolErrorName } from '@ambipede/firmware-protocol';

interface Vector {
  name: string;
  hex: string;
}
export type ValidVector = Vector & {
  decoded: { type: MessageType; token?: string; counts?: number[][] } & Record<string, unknown>;
};
export type MalformedVector = Vector & { error: ProtocolErrorName };

export const validVectors = load<ValidVector>('valid');
export const malformedVectors = load<MalformedVector>('malformed');

export function bytesOf(hex: string): Uint8Array {
  return new Uint8Array(Buffer.from(hex, 'hex'));
}

export function hexOf(bytes: Uint8Array): string {
  return Buffer.from(bytes).toString('hex');
}

function load<T>(name: string): T[] {
  return JSON.parse(
    readFileSync(new URL(`../../../firmware-protocol/vectors/${name}.json`, import.meta.url), 'utf8'),
  ) as T[];
}

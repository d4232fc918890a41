/** Ids that are the same each time: a receiver that gets a trial again replaces what it has, and counts nothing twice. */
import { createHash } from 'node:crypto';

const UUID_BYTES = 16;
const VERSION_BYTE = 6;
const VARIANT_BYTE = 8;
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i;

/** Of what is exported in FHIR. Made once at random: another one would give everything another id. */
const NAMESPACE = 'a3297d5c-30f3-483a-af50-96eaf2502033';

/** Version 5 (RFC 9562, section 5.5): from SHA-1 over the namespace and the name. Throws when the namespace is no UUID. */
export function uuidV5(namespace: string, name: string): string {
  if (!UUID.test(namespace)) throw new TypeError(`The namespace has to be a UUID, not ${namespace}.`);
  const hash = createHash('sha1')
    .update(Buffer.from(namespace.replaceAll('-', ''), 'hex'))
    .update(name, 'utf8');
  const bytes = hash.digest().subarray(0, UUID_BYTES);
  bytes[VERSION_BYTE] = (bytes[VERSION_BYTE]! & 0x0f) | 0x50;
  bytes[VARIANT_BYTE] = (bytes[VARIANT_BYTE]! & 0x3f) | 0x80;
  return bytes.toString('hex').replace(/^(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
}

/** @param part of the trial; without one the id stands for all of it */
export function exportedId(trialId: string, part = ''): string {
  return uuidV5(NAMESPACE, `${trialId} ${part}`);
}

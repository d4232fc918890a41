/**
 * CRC-32C against values that come from elsewhere. The five 32-byte and decimal strings are the examples of RFC 3720
 * (iSCSI), appendix B.4, and of the usual check value "123456789"; "a" and the empty string were computed bit by bit.
 */
import { describe, expect, it } from 'vitest';
import { crc32c } from '@ambipede/firmware-protocol';

const ascending = Uint8Array.from({ length: 32 }, (_, i) => i);

describe('CRC-32C gives the published value', () => {
  const cases: [string, Uint8Array, number][] = [
    ['of the digits 1 to 9', new TextEncoder().encode('123456789'), 0xe3069283],
    ['of 32 bytes 00', new Uint8Array(32), 0x8a9136aa],
    ['of 32 bytes FF', new Uint8Array(32).fill(0xff), 0x62a8ab43],
    ['of 00 to 1F', ascending, 0x46dd794e],
    ['of 1F to 00', ascending.toReversed(), 0x113fdb5c],
    ['of the letter a', new TextEncoder().encode('a'), 0xc1d04330],
    ['of nothing', new Uint8Array(0), 0],
  ];
  it.each(cases)('%s', (_name, bytes, expected) => {
    expect(crc32c(bytes)).toBe(expected);
  });
});

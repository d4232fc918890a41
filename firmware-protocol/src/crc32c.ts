/** CRC-32C (Castagnoli): polynomial 0x1EDC6F41 reflected, initial value and final complement all ones (RFC 3720, 12.1). */
const TABLE = makeTable();

function makeTable(): Uint32Array {
  const reflectedPolynomial = 0x82f63b78;
  return Uint32Array.from({ length: 256 }, (_, byte) => {
    let value = byte;
    for (let bit = 0; bit < 8; bit++) value = value & 1 ? (value >>> 1) ^ reflectedPolynomial : value >>> 1;
    return value >>> 0;
  });
}

export function crc32c(bytes: Uint8Array): number {
  let crc = 0xffffffff;
  for (let i = 0; i < bytes.length; i++) crc = (crc >>> 8) ^ (TABLE[(crc ^ (bytes[i] as number)) & 0xff] as number);
  return ~crc >>> 0;
}

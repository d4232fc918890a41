/** Values one step outside the range of each field of a frame, as far as its type can carry them. */
import { LAYOUTS, U16_MAX, U32_MAX, isAllowed, type MessageType, type NumberType } from '@ambipede/firmware-protocol';

const CARRIES: Record<NumberType, [number, number]> = {
  u8: [0, 255],
  u16: [0, U16_MAX],
  i16: [-32768, 32767],
  u32: [0, U32_MAX],
  // The first number that a double cannot tell from its neighbour is still exact itself.
  u64: [0, 2 ** 53],
};

export function outsideOf(type: MessageType): { field: string; value: number }[] {
  return LAYOUTS[type].fields.flatMap((field) => {
    const [least, most] = CARRIES[field.type];
    return [field.min - 1, field.max + 1]
      .filter((value) => value >= least && value <= most && !isAllowed(field, value))
      .map((value) => ({ field: field.name, value }));
  });
}

/** What is wrong with a one-time code as it is typed. */
import { CODE_DIGITS } from '@ambipede/shared';
import { TEXTS } from '../texts.ts';

export function problemOfCode(typed: string): string | undefined {
  return new RegExp(`^\\d{${CODE_DIGITS}}$`).test(typed.replaceAll(/\s/g, '')) ? undefined : TEXTS.code.wrong;
}

/** What a fault did to the samples, for a test to judge and for the benchmark to print. */
import type { StoreCheck } from './marked-samples.ts';

export interface FaultResult {
  fault: string;
  /** How often it was done. */
  tried: number;
  /** Samples that devices were told to be safe. */
  acknowledged: number;
  /** Of all samples that no device reported as lost: missing in the store, or stored with other bytes. */
  lost: number;
}

export function resultOf(fault: string, tried: number, checks: readonly StoreCheck[]): FaultResult {
  const sum = (of: (check: StoreCheck) => number): number => checks.reduce((all, check) => all + of(check), 0);
  return {
    fault,
    tried,
    acknowledged: sum(({ acknowledged }) => acknowledged),
    lost: sum(({ missing, wrong }) => missing + wrong),
  };
}

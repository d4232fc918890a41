/** Two-sided 95 % points of Student's t: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2. */
import { describe, expect, it } from 'vitest';
import { studentTQuantile } from '../../server/src/asymmetry/quantiles.ts';

const PRINTED = [
  12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.16, 2.145, 2.131, 2.12, 2.11,
  2.101, 2.093, 2.086, 2.08, 2.074, 2.069, 2.064, 2.06, 2.056, 2.052, 2.048, 2.045, 2.042,
];

describe('the 97.5 % point of Student’s t', () => {
  it('is the printed one for 1 to 30 degrees of freedom', () => {
    PRINTED.forEach((printed, i) =>
      expect(Math.abs(studentTQuantile(0.975, i + 1) - printed), `${i + 1} degrees of freedom`).toBeLessThanOrEqual(
        0.0005 + 1e-9,
      ),
    );
  });

  it.each([
    [40, 2.021],
    [60, 2.0],
    [100, 1.984],
    [1e9, 1.96],
  ])('is the printed one for %d degrees of freedom', (degrees, printed) => {
    expect(Math.abs(studentTQuantile(0.975, degrees) - printed)).toBeLessThanOrEqual(0.0005 + 1e-9);
  });
});

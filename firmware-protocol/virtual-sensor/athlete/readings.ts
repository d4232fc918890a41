/** What a simulated sensor measured, one reading after the other, for a virtual sensor to play. */
import type { Reading } from '../../src/sample-payload.ts';
import type { Columns } from './sensor.ts';

export function* readingsOf({ ax, ay, az, gx, gy, gz }: Columns): Generator<Reading> {
  for (let k = 0; k < ax.length; k++) {
    yield { ax: ax[k]!, ay: ay[k]!, az: az[k]!, gx: gx[k]!, gy: gy[k]!, gz: gz[k]! };
  }
}

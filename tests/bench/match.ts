/** How well found contacts meet the true ones. Strict: one to one, nearest first, nothing outside the valid spans counts. */
import type { Contact, SideOrUnknown } from '../../shared/src/index.ts';

export interface TrueContact {
  t: number;
  side: SideOrUnknown;
  type: 'initial_contact' | 'toe_off';
}

export interface MatchCount {
  truth: number;
  missed: number;
  extra: number;
  /** Found minus true time, s, of the matched pairs. */
  errors: number[];
  sided: number;
  wrongSide: number;
}

export function emptyCount(): MatchCount {
  return { truth: 0, missed: 0, extra: 0, errors: [], sided: 0, wrongSide: 0 };
}

/** Adds the events of one type in one recording to `count`. `windowS`: furthest that a pair may be apart. */
export function matchContacts(
  count: MatchCount,
  type: TrueContact['type'],
  truth: readonly TrueContact[],
  found: readonly Contact[],
  spans: readonly (readonly number[])[],
  windowS: number,
): void {
  const inside = (t: number, margin: number): boolean =>
    spans.some((s) => t >= (s[0] ?? 0) - margin && t <= (s[1] ?? 0) + margin);
  const wanted = truth.filter((c) => c.type === type && inside(c.t, 0));
  const offered = found.filter((c) => c.type === type && inside(c.t, windowS));
  const pairs: { w: number; o: number; distance: number }[] = [];
  wanted.forEach((a, w) =>
    offered.forEach((b, o) => {
      const distance = Math.abs(a.t - b.t);
      if (distance <= windowS) pairs.push({ w, o, distance });
    }),
  );
  pairs.sort((a, b) => a.distance - b.distance);
  const usedW = new Set<number>();
  const usedO = new Set<number>();
  for (const { w, o } of pairs) {
    if (usedW.has(w) || usedO.has(o)) continue;
    usedW.add(w);
    usedO.add(o);
    const a = wanted[w]!;
    const b = offered[o]!;
    count.errors.push(b.t - a.t);
    if (a.side !== 'unknown' && b.side !== 'unknown') {
      count.sided += 1;
      if (a.side !== b.side) count.wrongSide += 1;
    }
  }
  count.truth += wanted.length;
  count.missed += wanted.length - usedW.size;
  count.extra += offered.filter((b, o) => !usedO.has(o) && inside(b.t, 0)).length;
}

export interface ErrorFigures {
  biasMs: number;
  sdMs: number;
  rmseMs: number;
  missedPercent: number;
  extraPercent: number;
  wrongSidePercent: number | null;
}

export function figuresOf(count: MatchCount): ErrorFigures {
  const n = count.errors.length;
  const bias = count.errors.reduce((s, e) => s + e, 0) / n;
  const rms = Math.sqrt(count.errors.reduce((s, e) => s + e * e, 0) / n);
  return {
    biasMs: bias * 1000,
    sdMs: Math.sqrt(Math.max(0, rms * rms - bias * bias)) * 1000,
    rmseMs: rms * 1000,
    missedPercent: (100 * count.missed) / count.truth,
    extraPercent: (100 * count.extra) / count.truth,
    wrongSidePercent: count.sided === 0 ? null : (100 * count.wrongSide) / count.sided,
  };
}

/** Goals of DESIGN 8 for contacts and sides, in words: met, or what is missed. */
export function goalOf(gait: 'walk' | 'run', type: TrueContact['type'], f: ErrorFigures): string {
  const missed: string[] = [];
  if (gait === 'run') {
    if (Math.abs(f.biasMs) > 5) missed.push('bias');
    if (f.sdMs > 10) missed.push('SD');
  } else if (f.rmseMs > (type === 'initial_contact' ? 20 : 25)) missed.push('RMSE');
  if (f.wrongSidePercent !== null && f.wrongSidePercent > 0.5) missed.push('side');
  return missed.length === 0 ? 'met' : `missed: ${missed.join(', ')}`;
}

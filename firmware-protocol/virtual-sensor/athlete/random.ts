/** Seeded random numbers: the same seed gives the same athlete, session and noise on every machine. */
export class Random {
  private a: number;
  private b: number;
  private c: number;
  private d = 1;
  private spare: number | null = null;

  /** `label` keeps streams of one seed apart, so that more noise in one place leaves the others unchanged. */
  constructor(seed: number, label = '') {
    let hash = 0x9e3779b9 ^ seed;
    for (let i = 0; i < label.length; i++) hash = Math.imul(hash ^ label.charCodeAt(i), 0x01000193);
    this.a = hash | 0;
    this.b = Math.imul(hash, 0x85ebca6b) | 0;
    this.c = seed | 0;
    for (let i = 0; i < 16; i++) this.uniform();
  }

  /** In [0, 1), 32 bits. The small fast counter generator "sfc32" (C. Doty-Humphrey, public domain; from memory). */
  uniform(): number {
    const sum = (this.a + this.b + this.d) | 0;
    this.d = (this.d + 1) | 0;
    this.a = this.b ^ (this.b >>> 9);
    this.b = (this.c + (this.c << 3)) | 0;
    this.c = ((this.c << 21) | (this.c >>> 11)) + sum;
    return (sum >>> 0) / 4294967296;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.uniform();
  }

  /** Standard normal (Marsaglia's polar method). */
  normal(): number {
    if (this.spare !== null) {
      const value = this.spare;
      this.spare = null;
      return value;
    }
    for (;;) {
      const u = 2 * this.uniform() - 1;
      const v = 2 * this.uniform() - 1;
      const s = u * u + v * v;
      if (s === 0 || s >= 1) continue;
      const scale = Math.sqrt((-2 * Math.log(s)) / s);
      this.spare = v * scale;
      return u * scale;
    }
  }
}

/** First-order autoregressive noise of unit variance: neighbouring steps resemble each other. */
export class CorrelatedNoise {
  private readonly random: Random;
  private readonly correlation: number;
  private value: number;

  constructor(random: Random, correlation: number) {
    this.random = random;
    this.correlation = correlation;
    this.value = random.normal();
  }

  next(): number {
    this.value = this.correlation * this.value + Math.sqrt(1 - this.correlation ** 2) * this.random.normal();
    return this.value;
  }
}

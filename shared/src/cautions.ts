/** What the program shows before the first trial, on reports and at a decision (BIOMECHANICS 8). */
export const CAUTIONS: readonly string[] = [
  'This is not a medical device. It gives no diagnosis and clears nobody.',
  'A tilt or an apparent leg-length difference seen in movement is not a measured one.',
  'Stop with pain that rises or sharpens, with giddiness or a loss of balance.',
  'Single-leg and jumping tasks need a spotter, a dry floor and clear space.',
  'Hold off after surgery or a suspected fracture or concussion until the treating clinician agrees.',
  'Decisions belong to a licensed practitioner under local rules. Minors need a guardian’s consent.',
];

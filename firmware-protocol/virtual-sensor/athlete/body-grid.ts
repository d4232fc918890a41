/** Spacing in s of the grid on which the body moves. */
export const BODY_DT_S = 0.001;

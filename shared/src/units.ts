/** Units: SI and radians inside the code, degrees from the angle stage outwards. */

/** Standard gravity in m/s^2 (CGPM 1901), for converting a channel given in g. */
export const STANDARD_GRAVITY_MPS2 = 9.80665;

export const DEG_PER_RAD = 180 / Math.PI;
export const RAD_PER_DEG = Math.PI / 180;

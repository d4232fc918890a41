/** No conclusion from fewer stances a side (Dingenen et al. 2018, Phys Ther Sport 33:40-47: stable from 7 steps on). */
export const STANCES_PER_SIDE_MIN = 7;

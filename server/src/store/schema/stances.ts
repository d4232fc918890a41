import { check, doublePrecision, integer, pgTable, primaryKey, text, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import type { StanceMetricKey } from '@ambipede/shared';
import { trials } from './trials.ts';

/** A column per metric of the catalogue; a metric that could not be measured is null. */
const metricColumns = {
  contactTimeS: doublePrecision('contact_time_s'),
  flightTimeS: doublePrecision('flight_time_s'),
  stepTimeS: doublePrecision('step_time_s'),
  dutyFactor: doublePrecision('duty_factor'),
  swingSideDropDeg: doublePrecision('swing_side_drop_deg'),
  swingSideLiftDeg: doublePrecision('swing_side_lift_deg'),
  obliquityAtContactDeg: doublePrecision('obliquity_at_contact_deg'),
  obliquityExcursionDeg: doublePrecision('obliquity_excursion_deg'),
  leanToStanceMeanDeg: doublePrecision('lean_to_stance_mean_deg'),
  leanToStancePeakDeg: doublePrecision('lean_to_stance_peak_deg'),
  trunkLeanExcursionDeg: doublePrecision('trunk_lean_excursion_deg'),
  sideBendExcursionDeg: doublePrecision('side_bend_excursion_deg'),
  swingSideClosingDeg: doublePrecision('swing_side_closing_deg'),
  separationRangeDeg: doublePrecision('separation_range_deg'),
  chestLeadDeg: doublePrecision('chest_lead_deg'),
  verticalOscillationM: doublePrecision('vertical_oscillation_m'),
  lateralSwayM: doublePrecision('lateral_sway_m'),
  pelvisPeakVerticalAccelerationG: doublePrecision('pelvis_peak_vertical_acceleration_g'),
  sternumPeakVerticalAccelerationG: doublePrecision('sternum_peak_vertical_acceleration_g'),
  peakAttenuationDb: doublePrecision('peak_attenuation_db'),
  peakTransverseRateDegPerS: doublePrecision('peak_transverse_rate_deg_per_s'),
  peakForceN: doublePrecision('peak_force_n'),
  verticalStiffnessNPerM: doublePrecision('vertical_stiffness_n_per_m'),
} satisfies Record<StanceMetricKey, unknown>;

/** Kept stances of a trial's final result. Times are seconds since the session's start. */
export const stances = pgTable(
  'stances',
  {
    trialId: uuid('trial_id')
      .notNull()
      .references(() => trials.id, { onDelete: 'cascade' }),
    id: integer('id').notNull(),
    revision: integer('revision').notNull(),
    side: text('side', { enum: ['left', 'right', 'unknown'] }).notNull(),
    gait: text('gait', { enum: ['walk', 'run'] }).notNull(),
    initialContact: doublePrecision('initial_contact_s').notNull(),
    toeOff: doublePrecision('toe_off_s').notNull(),
    sidePosterior: doublePrecision('side_posterior').notNull(),
    ...metricColumns,
  },
  (table) => [
    primaryKey({ columns: [table.trialId, table.id] }),
    check('stances_side_known', sql`${table.side} in ('left', 'right', 'unknown')`),
  ],
);

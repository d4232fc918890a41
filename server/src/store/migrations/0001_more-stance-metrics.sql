ALTER TABLE "stances" ADD COLUMN "swing_side_closing_deg" double precision;--> statement-breakpoint
ALTER TABLE "stances" ADD COLUMN "chest_lead_deg" double precision;--> statement-breakpoint
ALTER TABLE "stances" ADD COLUMN "vertical_oscillation_m" double precision;--> statement-breakpoint
ALTER TABLE "stances" ADD COLUMN "lateral_sway_m" double precision;--> statement-breakpoint
ALTER TABLE "stances" ADD COLUMN "peak_attenuation_db" double precision;--> statement-breakpoint
ALTER TABLE "stances" ADD COLUMN "peak_force_n" double precision;--> statement-breakpoint
ALTER TABLE "stances" ADD COLUMN "vertical_stiffness_n_per_m" double precision;--> statement-breakpoint
ALTER TABLE "trial_metrics" RENAME COLUMN "placement_uncertainty_deg" TO "placement_uncertainty";

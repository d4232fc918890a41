CREATE TABLE "athletes" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"name" text NOT NULL,
	"created_utc_ms" bigint NOT NULL
);
--> statement-breakpoint
CREATE TABLE "sensors" (
	"device_id" text PRIMARY KEY NOT NULL,
	"athlete_id" uuid,
	"place" text,
	"last_seen_utc_ms" bigint,
	CONSTRAINT "sensors_place_known" CHECK ("sensors"."place" in ('pelvis', 'sternum'))
);
--> statement-breakpoint
CREATE TABLE "lead_in_marks" (
	"id" bigint PRIMARY KEY GENERATED ALWAYS AS IDENTITY (sequence name "lead_in_marks_id_seq" INCREMENT BY 1 MINVALUE 1 MAXVALUE 9223372036854775807 START WITH 1 CACHE 1),
	"session_id" uuid NOT NULL,
	"step" text NOT NULL,
	"start_utc_ms" bigint NOT NULL,
	"end_utc_ms" bigint
);
--> statement-breakpoint
CREATE TABLE "mountings" (
	"session_id" uuid NOT NULL,
	"place" text NOT NULL,
	"source" text NOT NULL,
	"quaternion" double precision[],
	"frontal_uncertainty_deg" double precision,
	"remarks" jsonb NOT NULL,
	"details" jsonb NOT NULL,
	CONSTRAINT "mountings_session_id_place_pk" PRIMARY KEY("session_id","place")
);
--> statement-breakpoint
CREATE TABLE "session_sensors" (
	"session_id" uuid NOT NULL,
	"place" text NOT NULL,
	"device_id" text NOT NULL,
	CONSTRAINT "session_sensors_session_id_place_pk" PRIMARY KEY("session_id","place")
);
--> statement-breakpoint
CREATE TABLE "sessions" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"athlete_id" uuid NOT NULL,
	"started_utc_ms" bigint NOT NULL,
	"ended_utc_ms" bigint
);
--> statement-breakpoint
CREATE TABLE "trial_metrics" (
	"trial_id" uuid NOT NULL,
	"metric" text NOT NULL,
	"left_n" integer NOT NULL,
	"left_mean" double precision,
	"left_sd" double precision,
	"right_n" integer NOT NULL,
	"right_mean" double precision,
	"right_sd" double precision,
	"difference" double precision,
	"ci_low" double precision,
	"ci_high" double precision,
	"missing_left" integer NOT NULL,
	"missing_right" integer NOT NULL,
	"verdict" text NOT NULL,
	"placement_uncertainty_deg" double precision,
	CONSTRAINT "trial_metrics_trial_id_metric_pk" PRIMARY KEY("trial_id","metric")
);
--> statement-breakpoint
CREATE TABLE "trials" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"session_id" uuid NOT NULL,
	"task" text NOT NULL,
	"state" text NOT NULL,
	"started_utc_ms" bigint NOT NULL,
	"ended_utc_ms" bigint,
	"version" text,
	"problem" text,
	"data_complete" boolean DEFAULT false NOT NULL,
	"quality" jsonb,
	CONSTRAINT "trials_state_known" CHECK ("trials"."state" in ('running', 're-analysing', 'final', 'failed'))
);
--> statement-breakpoint
CREATE TABLE "stances" (
	"trial_id" uuid NOT NULL,
	"id" integer NOT NULL,
	"revision" integer NOT NULL,
	"side" text NOT NULL,
	"gait" text NOT NULL,
	"initial_contact_s" double precision NOT NULL,
	"toe_off_s" double precision NOT NULL,
	"side_posterior" double precision NOT NULL,
	"contact_time_s" double precision,
	"flight_time_s" double precision,
	"step_time_s" double precision,
	"duty_factor" double precision,
	"swing_side_drop_deg" double precision,
	"swing_side_lift_deg" double precision,
	"obliquity_at_contact_deg" double precision,
	"obliquity_excursion_deg" double precision,
	"lean_to_stance_mean_deg" double precision,
	"lean_to_stance_peak_deg" double precision,
	"trunk_lean_excursion_deg" double precision,
	"side_bend_excursion_deg" double precision,
	"separation_range_deg" double precision,
	"pelvis_peak_vertical_acceleration_g" double precision,
	"sternum_peak_vertical_acceleration_g" double precision,
	"peak_transverse_rate_deg_per_s" double precision,
	CONSTRAINT "stances_trial_id_id_pk" PRIMARY KEY("trial_id","id"),
	CONSTRAINT "stances_side_known" CHECK ("stances"."side" in ('left', 'right', 'unknown'))
);
--> statement-breakpoint
CREATE TABLE "raw_batches" (
	"device_id" text NOT NULL,
	"boot_id" bigint NOT NULL,
	"first_sequence" bigint NOT NULL,
	"count" integer NOT NULL,
	"first_tick_us" bigint NOT NULL,
	"interval_us" integer NOT NULL,
	"first_utc_ms" double precision NOT NULL,
	"end_utc_ms" double precision NOT NULL,
	"accel_scale" double precision NOT NULL,
	"gyro_scale" double precision NOT NULL,
	"crc32c" bigint NOT NULL,
	"payload" "bytea" NOT NULL,
	"athlete_id" uuid,
	CONSTRAINT "raw_batches_device_id_boot_id_first_sequence_pk" PRIMARY KEY("device_id","boot_id","first_sequence")
);
--> statement-breakpoint
ALTER TABLE "sensors" ADD CONSTRAINT "sensors_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE set null ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "lead_in_marks" ADD CONSTRAINT "lead_in_marks_session_id_sessions_id_fk" FOREIGN KEY ("session_id") REFERENCES "public"."sessions"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "mountings" ADD CONSTRAINT "mountings_session_id_sessions_id_fk" FOREIGN KEY ("session_id") REFERENCES "public"."sessions"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "session_sensors" ADD CONSTRAINT "session_sensors_session_id_sessions_id_fk" FOREIGN KEY ("session_id") REFERENCES "public"."sessions"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "sessions" ADD CONSTRAINT "sessions_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "trial_metrics" ADD CONSTRAINT "trial_metrics_trial_id_trials_id_fk" FOREIGN KEY ("trial_id") REFERENCES "public"."trials"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "trials" ADD CONSTRAINT "trials_session_id_sessions_id_fk" FOREIGN KEY ("session_id") REFERENCES "public"."sessions"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "stances" ADD CONSTRAINT "stances_trial_id_trials_id_fk" FOREIGN KEY ("trial_id") REFERENCES "public"."trials"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "raw_batches" ADD CONSTRAINT "raw_batches_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
CREATE UNIQUE INDEX "sensors_athlete_place" ON "sensors" USING btree ("athlete_id","place");--> statement-breakpoint
CREATE INDEX "lead_in_marks_of_session" ON "lead_in_marks" USING btree ("session_id","start_utc_ms");--> statement-breakpoint
CREATE UNIQUE INDEX "sessions_one_open" ON "sessions" USING btree ("athlete_id") WHERE "sessions"."ended_utc_ms" is null;--> statement-breakpoint
CREATE INDEX "sessions_of_athlete" ON "sessions" USING btree ("athlete_id","started_utc_ms");--> statement-breakpoint
CREATE UNIQUE INDEX "trials_one_running" ON "trials" USING btree ("session_id") WHERE "trials"."state" = 'running';--> statement-breakpoint
CREATE INDEX "trials_of_session" ON "trials" USING btree ("session_id","started_utc_ms");--> statement-breakpoint
CREATE INDEX "trials_unfinished" ON "trials" USING btree ("state") WHERE "trials"."state" in ('running', 're-analysing');--> statement-breakpoint
CREATE INDEX "raw_batches_of_device" ON "raw_batches" USING btree ("device_id","end_utc_ms");--> statement-breakpoint
CREATE INDEX "raw_batches_of_athlete" ON "raw_batches" USING btree ("athlete_id");
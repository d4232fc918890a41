CREATE TABLE "annotations" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"athlete_id" uuid NOT NULL,
	"kind" text NOT NULL,
	"at_utc_ms" bigint NOT NULL,
	"author_name" text NOT NULL,
	"side" text,
	"pain_level" integer,
	"text" text DEFAULT '' NOT NULL,
	"created_utc_ms" bigint NOT NULL,
	CONSTRAINT "annotations_kind_known" CHECK ("annotations"."kind" in ('injury', 'pain', 'surface', 'shoes', 'note')),
	CONSTRAINT "annotations_side_known" CHECK ("annotations"."side" in ('left', 'right', 'both')),
	CONSTRAINT "annotations_side_of_injury_or_pain" CHECK ("annotations"."side" is null or "annotations"."kind" in ('injury', 'pain')),
	CONSTRAINT "annotations_pain_has_level" CHECK (("annotations"."kind" = 'pain') = ("annotations"."pain_level" is not null)),
	CONSTRAINT "annotations_pain_level_possible" CHECK ("annotations"."pain_level" between 0 and 10)
);
--> statement-breakpoint
CREATE TABLE "return_criteria" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"episode_id" uuid NOT NULL,
	"task" text NOT NULL,
	"metric" text NOT NULL,
	"limit_in_unit" double precision NOT NULL,
	"sessions_in_a_row" integer NOT NULL,
	"created_utc_ms" bigint NOT NULL,
	CONSTRAINT "return_criteria_limit_above_zero" CHECK ("return_criteria"."limit_in_unit" > 0),
	CONSTRAINT "return_criteria_sessions_possible" CHECK ("return_criteria"."sessions_in_a_row" >= 1)
);
--> statement-breakpoint
CREATE TABLE "return_decisions" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"episode_id" uuid NOT NULL,
	"decided_utc_ms" bigint NOT NULL,
	"decider_name" text NOT NULL,
	"decision" text NOT NULL,
	"reason" text NOT NULL,
	CONSTRAINT "return_decisions_have_reason" CHECK ("return_decisions"."reason" ~ '\S' and "return_decisions"."decider_name" ~ '\S')
);
--> statement-breakpoint
CREATE TABLE "return_episodes" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"athlete_id" uuid NOT NULL,
	"onset_utc_ms" bigint NOT NULL,
	"affected_side" text NOT NULL,
	"question" text NOT NULL,
	"baseline" text NOT NULL,
	"created_utc_ms" bigint NOT NULL,
	CONSTRAINT "return_episodes_side_known" CHECK ("return_episodes"."affected_side" in ('left', 'right')),
	CONSTRAINT "return_episodes_baseline_known" CHECK ("return_episodes"."baseline" in ('before the injury', 'unaffected side'))
);
--> statement-breakpoint
CREATE TABLE "re_analysis_runs" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"version" text NOT NULL,
	"state" text NOT NULL,
	"started_utc_ms" bigint NOT NULL,
	"ended_utc_ms" bigint,
	"trials_total" integer NOT NULL,
	"trials_done" integer DEFAULT 0 NOT NULL,
	"trials_failed" integer DEFAULT 0 NOT NULL,
	"last_trial_started_utc_ms" bigint,
	"last_trial_id" uuid,
	CONSTRAINT "re_analysis_runs_state_known" CHECK ("re_analysis_runs"."state" in ('running', 'done', 'cancelled', 'superseded'))
);
--> statement-breakpoint
ALTER TABLE "annotations" ADD CONSTRAINT "annotations_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "return_criteria" ADD CONSTRAINT "return_criteria_episode_id_return_episodes_id_fk" FOREIGN KEY ("episode_id") REFERENCES "public"."return_episodes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "return_decisions" ADD CONSTRAINT "return_decisions_episode_id_return_episodes_id_fk" FOREIGN KEY ("episode_id") REFERENCES "public"."return_episodes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "return_episodes" ADD CONSTRAINT "return_episodes_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
CREATE INDEX "annotations_of_athlete" ON "annotations" USING btree ("athlete_id","at_utc_ms");--> statement-breakpoint
CREATE INDEX "return_criteria_of_episode" ON "return_criteria" USING btree ("episode_id","created_utc_ms");--> statement-breakpoint
CREATE INDEX "return_decisions_of_episode" ON "return_decisions" USING btree ("episode_id","decided_utc_ms");--> statement-breakpoint
CREATE INDEX "return_episodes_of_athlete" ON "return_episodes" USING btree ("athlete_id","onset_utc_ms");--> statement-breakpoint
CREATE UNIQUE INDEX "re_analysis_runs_one_running" ON "re_analysis_runs" USING btree ("state") WHERE "re_analysis_runs"."state" = 'running';--> statement-breakpoint
-- A restore drops the tables of an empty database, not this.
CREATE OR REPLACE FUNCTION "refuse_change_of_decision"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  -- Deleting an athlete deletes the episode first, and then these.
  IF TG_OP = 'DELETE' AND NOT EXISTS (SELECT FROM "return_episodes" WHERE "id" = OLD."episode_id") THEN
    RETURN OLD;
  END IF;
  RAISE EXCEPTION 'A decision is never changed or removed. Record a further one.';
END $$;--> statement-breakpoint
CREATE TRIGGER "return_decisions_only_grow" BEFORE UPDATE OR DELETE ON "return_decisions" FOR EACH ROW EXECUTE FUNCTION "refuse_change_of_decision"();

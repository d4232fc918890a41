ALTER TABLE "athletes" ADD COLUMN "body_mass_kg" double precision;--> statement-breakpoint
ALTER TABLE "athletes" ADD COLUMN "dominant_hand" text;--> statement-breakpoint
ALTER TABLE "athletes" ADD COLUMN "preferred_take_off_foot" text;--> statement-breakpoint
ALTER TABLE "athletes" ADD COLUMN "notes" text DEFAULT '' NOT NULL;--> statement-breakpoint
ALTER TABLE "trials" ADD COLUMN "task_summary" jsonb;--> statement-breakpoint
ALTER TABLE "trials" ADD COLUMN "waveforms" jsonb;--> statement-breakpoint
ALTER TABLE "trials" ADD COLUMN "body_mass_kg" double precision;--> statement-breakpoint
ALTER TABLE "trials" ADD COLUMN "tags" text[] DEFAULT '{}'::text[] NOT NULL;--> statement-breakpoint
ALTER TABLE "trials" ADD COLUMN "note" text DEFAULT '' NOT NULL;--> statement-breakpoint
ALTER TABLE "trials" ADD COLUMN "discarded" boolean DEFAULT false NOT NULL;--> statement-breakpoint
ALTER TABLE "athletes" ADD CONSTRAINT "athletes_body_mass_possible" CHECK ("athletes"."body_mass_kg" between 15 and 250);--> statement-breakpoint
ALTER TABLE "athletes" ADD CONSTRAINT "athletes_dominant_hand_known" CHECK ("athletes"."dominant_hand" in ('left', 'right', 'both'));--> statement-breakpoint
ALTER TABLE "athletes" ADD CONSTRAINT "athletes_take_off_foot_known" CHECK ("athletes"."preferred_take_off_foot" in ('left', 'right'));
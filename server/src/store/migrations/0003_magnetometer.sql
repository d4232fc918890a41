ALTER TABLE "raw_batches" ADD COLUMN "magn_scale" double precision DEFAULT 0 NOT NULL;--> statement-breakpoint
ALTER TABLE "raw_batches" ADD COLUMN "channels" integer DEFAULT 3 NOT NULL;
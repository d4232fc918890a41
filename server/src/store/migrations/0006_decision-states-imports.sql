ALTER TABLE "sessions" ADD COLUMN "imported_from" text;--> statement-breakpoint
ALTER TABLE "return_decisions" ADD COLUMN "criteria" jsonb;
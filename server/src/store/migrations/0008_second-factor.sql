ALTER TABLE "accounts" ADD COLUMN "password_set_utc_ms" bigint DEFAULT (extract(epoch from now()) * 1000)::bigint NOT NULL;--> statement-breakpoint
ALTER TABLE "accounts" ADD COLUMN "second_factor_key" "bytea";--> statement-breakpoint
ALTER TABLE "accounts" ADD COLUMN "second_factor_since_utc_ms" bigint;--> statement-breakpoint
ALTER TABLE "accounts" ADD COLUMN "second_factor_step" bigint;--> statement-breakpoint
ALTER TABLE "sign_ins" ADD COLUMN "browser" text DEFAULT '' NOT NULL;--> statement-breakpoint
ALTER TABLE "accounts" ADD CONSTRAINT "accounts_second_factor_whole" CHECK (("accounts"."second_factor_key" is null) = ("accounts"."second_factor_since_utc_ms" is null));
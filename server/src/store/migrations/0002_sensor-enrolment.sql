ALTER TABLE "sensors" ADD COLUMN "token_hash" "bytea";--> statement-breakpoint
ALTER TABLE "sensors" ADD CONSTRAINT "sensors_token_hash_is_sha256" CHECK (octet_length("sensors"."token_hash") = 32);
CREATE TABLE "accounts" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"login" text NOT NULL,
	"name" text NOT NULL,
	"roles" text[] NOT NULL,
	"athlete_id" uuid,
	"password_hash" text NOT NULL,
	"password_is_first" boolean NOT NULL,
	"created_utc_ms" bigint NOT NULL,
	"closed_utc_ms" bigint,
	CONSTRAINT "accounts_login_lower_case" CHECK ("accounts"."login" = lower("accounts"."login")),
	CONSTRAINT "accounts_roles_known" CHECK (cardinality("accounts"."roles") > 0 and "accounts"."roles" <@ array['keeper', 'coach', 'physio', 'athlete']),
	CONSTRAINT "accounts_athlete_has_athlete" CHECK (('athlete' = any("accounts"."roles")) = ("accounts"."athlete_id" is not null))
);
--> statement-breakpoint
CREATE TABLE "sign_ins" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"account_id" uuid NOT NULL,
	"token_hash" "bytea" NOT NULL,
	"old_token_hash" "bytea",
	"token_utc_ms" bigint NOT NULL,
	"confirmed_utc_ms" bigint,
	"started_utc_ms" bigint NOT NULL,
	"seen_utc_ms" bigint NOT NULL,
	CONSTRAINT "sign_ins_token_is_sha256" CHECK (octet_length("sign_ins"."token_hash") = 32)
);
--> statement-breakpoint
CREATE TABLE "audit" (
	"id" bigint PRIMARY KEY GENERATED ALWAYS AS IDENTITY (sequence name "audit_id_seq" INCREMENT BY 1 MINVALUE 1 MAXVALUE 9223372036854775807 START WITH 1 CACHE 1),
	"utc_ms" bigint NOT NULL,
	"account_id" uuid,
	"action" text NOT NULL,
	"athlete_id" uuid,
	"refused_status" integer
);
--> statement-breakpoint
CREATE TABLE "carers" (
	"athlete_id" uuid NOT NULL,
	"account_id" uuid NOT NULL,
	"since_utc_ms" bigint NOT NULL,
	CONSTRAINT "carers_athlete_id_account_id_pk" PRIMARY KEY("athlete_id","account_id")
);
--> statement-breakpoint
CREATE TABLE "consents" (
	"id" uuid PRIMARY KEY DEFAULT gen_random_uuid() NOT NULL,
	"athlete_id" uuid NOT NULL,
	"purpose" text NOT NULL,
	"given_by_name" text NOT NULL,
	"guardian_of" text,
	"given_utc_ms" bigint NOT NULL,
	"recorded_by_name" text,
	"withdrawn_utc_ms" bigint,
	"withdrawn_by_name" text,
	CONSTRAINT "consents_purpose_known" CHECK ("consents"."purpose" in ('recording', 'health to coach')),
	CONSTRAINT "consents_withdrawn_by_somebody" CHECK (("consents"."withdrawn_utc_ms" is null) = ("consents"."withdrawn_by_name" is null))
);
--> statement-breakpoint
CREATE TABLE "retention" (
	"id" integer PRIMARY KEY DEFAULT 1 NOT NULL,
	"months" integer,
	"changed_utc_ms" bigint NOT NULL,
	CONSTRAINT "retention_one_row" CHECK ("retention"."id" = 1),
	CONSTRAINT "retention_months_possible" CHECK ("retention"."months" between 1 and 600)
);
--> statement-breakpoint
ALTER TABLE "return_decisions" ADD COLUMN "recorded_by_name" text;--> statement-breakpoint
ALTER TABLE "re_analysis_runs" ADD COLUMN "scope" text DEFAULT 'outdated' NOT NULL;--> statement-breakpoint
ALTER TABLE "accounts" ADD CONSTRAINT "accounts_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "sign_ins" ADD CONSTRAINT "sign_ins_account_id_accounts_id_fk" FOREIGN KEY ("account_id") REFERENCES "public"."accounts"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "carers" ADD CONSTRAINT "carers_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "carers" ADD CONSTRAINT "carers_account_id_accounts_id_fk" FOREIGN KEY ("account_id") REFERENCES "public"."accounts"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
ALTER TABLE "consents" ADD CONSTRAINT "consents_athlete_id_athletes_id_fk" FOREIGN KEY ("athlete_id") REFERENCES "public"."athletes"("id") ON DELETE cascade ON UPDATE no action;--> statement-breakpoint
CREATE UNIQUE INDEX "accounts_login" ON "accounts" USING btree ("login");--> statement-breakpoint
CREATE UNIQUE INDEX "sign_ins_token" ON "sign_ins" USING btree ("token_hash");--> statement-breakpoint
CREATE INDEX "sign_ins_old_token" ON "sign_ins" USING btree ("old_token_hash");--> statement-breakpoint
CREATE INDEX "sign_ins_of_account" ON "sign_ins" USING btree ("account_id");--> statement-breakpoint
CREATE INDEX "audit_of_athlete" ON "audit" USING btree ("athlete_id","id");--> statement-breakpoint
CREATE INDEX "carers_of_account" ON "carers" USING btree ("account_id");--> statement-breakpoint
CREATE INDEX "consents_of_athlete" ON "consents" USING btree ("athlete_id","given_utc_ms");--> statement-breakpoint
ALTER TABLE "re_analysis_runs" ADD CONSTRAINT "re_analysis_runs_scope_known" CHECK ("re_analysis_runs"."scope" in ('outdated', 'all'));--> statement-breakpoint
-- A restore drops the tables of an empty database, not this.
CREATE OR REPLACE FUNCTION "refuse_change_of_audit"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'The audit is only added to.';
END $$;--> statement-breakpoint
CREATE TRIGGER "audit_only_grows" BEFORE UPDATE OR DELETE ON "audit" FOR EACH ROW EXECUTE FUNCTION "refuse_change_of_audit"();--> statement-breakpoint
CREATE TRIGGER "audit_not_emptied" BEFORE TRUNCATE ON "audit" FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change_of_audit"();

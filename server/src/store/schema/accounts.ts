import { bigint, boolean, check, customType, index, pgTable, text, uniqueIndex, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import type { Role } from '@ambipede/shared';
import { athletes } from './athletes.ts';

const bytea = customType<{ data: Uint8Array }>({ dataType: () => 'bytea' });

/** People who may sign in. */
export const accounts = pgTable(
  'accounts',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    /** Lower case: nobody's login differs from another's in that alone. */
    login: text('login').notNull(),
    name: text('name').notNull(),
    roles: text('roles').array().$type<Role[]>().notNull(),
    athleteId: uuid('athlete_id').references(() => athletes.id, { onDelete: 'cascade' }),
    /** Argon2id, in the PHC string format. */
    passwordHash: text('password_hash').notNull(),
    /** Given by somebody else and not changed since. */
    passwordIsFirst: boolean('password_is_first').notNull(),
    /** Of accounts from before this was written down: when the server was upgraded. */
    passwordSetUtcMs: bigint('password_set_utc_ms', { mode: 'number' })
      .notNull()
      .default(sql`(extract(epoch from now()) * 1000)::bigint`),
    /** Shared with the app that makes one-time codes. In the clear: the server computes with it. */
    secondFactorKey: bytea('second_factor_key'),
    secondFactorSinceUtcMs: bigint('second_factor_since_utc_ms', { mode: 'number' }),
    /** Time step of the last code that was taken: none is taken twice. */
    secondFactorStep: bigint('second_factor_step', { mode: 'number' }),
    createdUtcMs: bigint('created_utc_ms', { mode: 'number' }).notNull(),
    closedUtcMs: bigint('closed_utc_ms', { mode: 'number' }),
  },
  (table) => [
    uniqueIndex('accounts_login').on(table.login),
    check('accounts_login_lower_case', sql`${table.login} = lower(${table.login})`),
    check(
      'accounts_roles_known',
      sql`cardinality(${table.roles}) > 0 and ${table.roles} <@ array['keeper', 'coach', 'physio', 'athlete']`,
    ),
    check(
      'accounts_second_factor_whole',
      sql`(${table.secondFactorKey} is null) = (${table.secondFactorSinceUtcMs} is null)`,
    ),
    check('accounts_athlete_has_athlete', sql`('athlete' = any(${table.roles})) = (${table.athleteId} is not null)`),
  ],
);

/** A browser in which somebody has signed in. */
export const signIns = pgTable(
  'sign_ins',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    accountId: uuid('account_id')
      .notNull()
      .references(() => accounts.id, { onDelete: 'cascade' }),
    /** SHA-256 of the cookie's value; the value itself is nowhere. */
    tokenHash: bytea('token_hash').notNull(),
    /** Of the value before: good until the new one has come back once, in case it never arrived. */
    oldTokenHash: bytea('old_token_hash'),
    tokenUtcMs: bigint('token_utc_ms', { mode: 'number' }).notNull(),
    /** The new value has come back. */
    confirmedUtcMs: bigint('confirmed_utc_ms', { mode: 'number' }),
    startedUtcMs: bigint('started_utc_ms', { mode: 'number' }).notNull(),
    seenUtcMs: bigint('seen_utc_ms', { mode: 'number' }).notNull(),
    /** In rough words of our own, never what the browser said. */
    browser: text('browser').notNull().default(''),
  },
  (table) => [
    uniqueIndex('sign_ins_token').on(table.tokenHash),
    index('sign_ins_old_token').on(table.oldTokenHash),
    index('sign_ins_of_account').on(table.accountId),
    check('sign_ins_token_is_sha256', sql`octet_length(${table.tokenHash}) = 32`),
  ],
);

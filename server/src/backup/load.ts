/**
 * Rows of an archive into a table, some thousand at a time, as ordinary statements. (PostgreSQL's own COPY in would be
 * faster; the driver forgets an error that comes after the last row was sent, and waits for ever.)
 */
import postgres from 'postgres';
import type { TransactionSql } from 'postgres';
import { ArchiveFault } from './archive-format.ts';
import type { TableHeader } from './archive-format.ts';
import { quoted } from '../store/migration-list.ts';

const BATCH_BYTES = 512 * 1024;
/** Classes of SQLSTATE: a value that its type does not take, and a row that breaks a constraint. */
const BAD_ROW = /^(22|23)/;

type Value = string | null;

/** Throws ArchiveFault, without the values, for a row that does not fit. */
export async function load(
  tx: TransactionSql,
  table: TableHeader,
  rows: AsyncIterable<Buffer>,
  signal?: AbortSignal,
): Promise<void> {
  const insert = await insertStatement(tx, table);
  const width = table.columns.length;
  let columns: Value[][] = table.columns.map(() => []);
  let bytes = 0;
  const flush = async (): Promise<void> => {
    if (bytes > 0) await tx.unsafe(insert, columns, { prepare: true }).catch((error) => refuse(table.table, error));
    columns = table.columns.map(() => []);
    bytes = 0;
  };
  for await (const piece of rows) {
    signal?.throwIfAborted();
    for (const line of piece.toString('utf8', 0, piece.length - 1).split('\n')) {
      const values = line.split('\t');
      if (values.length !== width) throw new ArchiveFault(`is damaged in the table ${table.table}`);
      values.forEach((value, i) => columns[i]!.push(valueOf(value)));
    }
    bytes += piece.length;
    if (bytes > BATCH_BYTES) await flush();
  }
  await flush();
}

/** Each parameter is a column of texts, which the column's type reads as COPY would. */
async function insertStatement(tx: TransactionSql, { table, columns }: TableHeader): Promise<string> {
  const found = await tx`
    select attname as name, format_type(atttypid, atttypmod) as type from pg_attribute
    where attrelid = ${quoted(table)}::regclass and attnum > 0 and not attisdropped`;
  const types = new Map(found.map(({ name, type }) => [String(name), String(type)]));
  const names = columns.map(quoted).join(', ');
  const values = columns.map((column) => `given.${quoted(column)}::${types.get(column)}`).join(', ');
  const given = columns.map((_, i) => `$${i + 1}::text[]`).join(', ');
  return `insert into ${quoted(table)} (${names}) overriding system value select ${values} from unnest(${given}) as given (${names})`;
}

const ESCAPES: Record<string, string> = { b: '\b', f: '\f', n: '\n', r: '\r', t: '\t', v: '\v' };

/** PostgreSQL manual, COPY, "Text Format": a backslash stands before what would end or divide something. */
function valueOf(text: string): Value {
  if (text === '\\N') return null;
  return text.includes('\\') ? text.replace(/\\([^])/g, (_, after: string) => ESCAPES[after] ?? after) : text;
}

function refuse(table: string, error: unknown): never {
  if (error instanceof postgres.PostgresError && BAD_ROW.test(error.code)) {
    throw new ArchiveFault(`is damaged: a row does not fit into the table ${table}`);
  }
  throw error;
}

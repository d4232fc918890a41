/** Everything that is chosen about a recording. It lives as long as the page, whatever goes wrong with sending it. */
import {
  IMPORT_ARCHIVE_BYTES_MAX,
  IMPORT_CSV_BYTES_MAX,
  PLACES,
  type CsvImport,
  type CsvSensor,
  type ImportAnswer,
  type Task,
} from '@ambipede/shared';
import { IMPORT_TEXTS } from '../texts-import.ts';
import { kindOf, textOf, type FileKind } from './file-kind.ts';
import { importApi } from './import-api.ts';
import { marksOf, type MarkChoice } from './marks.ts';
import { missingIn } from './missing.ts';
import { TableDraft } from './table-draft.svelte.ts';
import { sizeText, utcMsOfLocal } from './typed.ts';

const { refused } = IMPORT_TEXTS.files;
const TABLES_MAX = PLACES.length;

export class ImportDraft {
  tables = $state.raw<TableDraft[]>([]);
  archive = $state.raw<File | null>(null);
  task = $state<Task | null>(null);
  /** As a field of day and time has it. */
  started = $state('');
  oneClock = $state(false);
  marks = $state<MarkChoice[]>([]);
  /** What the page is doing with the files, as a sentence; empty: nothing. */
  doing = $state('');

  readonly full = $derived(this.archive !== null || this.tables.length >= TABLES_MAX);
  readonly missing = $derived(missingIn(this));
  readonly doubted = $derived(
    this.tables.some(({ checks }) => checks.some((check) => (check?.problems.length ?? 0) > 0)),
  );

  /** Returns a sentence for each file that was not taken. */
  async add(files: readonly File[]): Promise<string[]> {
    const said: string[] = [];
    for (const file of files) {
      const kind = await kindOf(file).catch(() => null);
      const fault = kind === null ? refused.unreadable(file.name) : this.#faultOf(file, kind);
      if (fault !== null) said.push(fault);
      else if (kind === 'archive') this.archive = file;
      else await this.#addTable(file);
    }
    return said;
  }

  #faultOf(file: File, kind: FileKind): string | null {
    const { name, size } = file;
    const most = kind === 'archive' ? IMPORT_ARCHIVE_BYTES_MAX : IMPORT_CSV_BYTES_MAX;
    if (size === 0) return refused.empty(name);
    if (kind === 'packed') return refused.packed(name);
    if (size > most) return refused.tooLarge(name, sizeText(size), sizeText(most));
    if (this.#has(file)) return refused.twice(name);
    if (this.archive !== null || (kind === 'archive' && this.tables.length > 0)) return refused.mixed(name);
    return this.tables.length >= TABLES_MAX ? refused.tooMany(name) : null;
  }

  #has({ name, size, lastModified }: File): boolean {
    const all = [...this.tables.map((table) => table.file), ...(this.archive === null ? [] : [this.archive])];
    return all.some((file) => file.name === name && file.size === size && file.lastModified === lastModified);
  }

  async #addTable(file: File): Promise<void> {
    const table = new TableDraft(file);
    for (const before of this.tables) before.holdSensors(1);
    this.tables = [...this.tables, table];
    await table.begin(TABLES_MAX - this.tables.length + 1);
    // Another may have come while this one was read.
    if (this.tables.length === TABLES_MAX && table.sensors.length > 1) table.holdSensors(1);
  }

  remove(file: File): void {
    this.tables = this.tables.filter((table) => table.file !== file);
    if (this.archive === file) this.archive = null;
  }

  /** Rejects with a sentence that can be shown as it is; everything chosen stays. */
  async send(athleteId: string): Promise<ImportAnswer> {
    try {
      return await (this.archive === null ? this.#sendTables(athleteId) : this.#sendArchive(athleteId, this.archive));
    } finally {
      this.doing = '';
    }
  }

  async #sendArchive(athleteId: string, file: File): Promise<ImportAnswer> {
    this.doing = IMPORT_TEXTS.send.reading;
    const bytes = await file.arrayBuffer().catch(() => {
      throw new Error(refused.unreadable(file.name));
    });
    this.doing = IMPORT_TEXTS.send.sending(sizeText(bytes.byteLength));
    const startedUtcMs = utcMsOfLocal(this.started);
    return importApi.archive(athleteId, new Blob([bytes]), { fileName: file.name, task: this.task, startedUtcMs });
  }

  async #sendTables(athleteId: string): Promise<ImportAnswer> {
    const [startedUtcMs, marks] = [utcMsOfLocal(this.started), marksOf(this.marks)];
    if (this.task === null || startedUtcMs === null || marks === null) throw new Error(this.missing.join(' '));
    this.doing = IMPORT_TEXTS.send.reading;
    const sensors = (await Promise.all(this.tables.map(sensorsOf))).flat();
    const oneClock = this.tables.length > 1 && this.oneClock;
    const body = new Blob([
      JSON.stringify({ task: this.task, startedUtcMs, sensors, oneClock, marks } satisfies CsvImport),
    ]);
    if (body.size > IMPORT_CSV_BYTES_MAX) {
      const names = this.tables.map(({ name }) => name).join(', ');
      throw new Error(refused.tooLarge(names, sizeText(body.size), sizeText(IMPORT_CSV_BYTES_MAX)));
    }
    this.doing = IMPORT_TEXTS.send.sending(sizeText(body.size));
    return importApi.csv(athleteId, body);
  }
}

async function sensorsOf(table: TableDraft): Promise<CsvSensor[]> {
  const text = await textOf(table.file).catch(() => {
    throw new Error(refused.unreadable(table.name));
  });
  return table.sensors.flatMap(({ place }, i) => {
    const mapping = table.mappings[i];
    if (place === null || !mapping) return [];
    return [{ place, fileName: table.name, text: i === 0 ? text : null, mapping }];
  });
}

/** One chosen table: what the server sees in its beginning, and what is chosen about it. */
import { IMPORT_FILE_NAME_CHARACTERS_MAX, PLACES, type ImportPreview } from '@ambipede/shared';
import { ApiFailure } from '../api.ts';
import { IMPORT_TEXTS } from '../texts-import.ts';
import {
  formatOf,
  guessedSensor,
  guessedTime,
  mappingOf,
  noSensor,
  type FormatChoice,
  type SensorChoice,
  type TimeChoice,
} from './choices.ts';
import { headOf } from './file-kind.ts';
import { importApi } from './import-api.ts';

/** What the server says of a sensor's columns in the first rows. */
export interface SensorCheck {
  problems: string[];
  rateHz: number | null;
}

export class TableDraft {
  readonly file: File;
  readonly name: string;
  preview = $state.raw<ImportPreview | null>(null);
  reading = $state(true);
  /** Why there is no preview, or not with the format that is chosen; else empty. */
  failure = $state('');
  format = $state<FormatChoice>({ delimiter: ',', decimal: '.', firstLine: '1' });
  time = $state<TimeChoice>(guessedTime(null));
  sensors = $state<SensorChoice[]>([]);
  /** By sensor; null while it is not known. */
  checks = $state.raw<(SensorCheck | null)[]>([]);

  readonly mappings = $derived(this.sensors.map((sensor) => mappingOf(this.format, this.time, sensor)));

  #head = '';
  #look = 0;
  #check = 0;

  constructor(file: File) {
    this.file = file;
    this.name = file.name.slice(0, IMPORT_FILE_NAME_CHARACTERS_MAX);
  }

  /** Reads the beginning, and lets the server guess. @param sensorsMax how many of the file count */
  async begin(sensorsMax: number): Promise<void> {
    this.reading = true;
    try {
      this.#head = await headOf(this.file);
    } catch {
      this.failure = IMPORT_TEXTS.files.refused.unreadable(this.name);
      this.reading = false;
      return;
    }
    await this.#lookAgain(sensorsMax, false);
  }

  /** After another format was chosen. */
  async reread(): Promise<void> {
    if (formatOf(this.format) !== null) await this.#lookAgain(this.sensors.length || PLACES.length, true);
  }

  async #lookAgain(sensorsMax: number, withFormat: boolean): Promise<void> {
    const look = ++this.#look;
    this.reading = true;
    const format = withFormat ? formatOf(this.format) : null;
    try {
      const preview = await importApi.preview({ name: this.name, text: this.#head, ...(format && { format }) });
      if (look !== this.#look) return;
      this.#take(preview, sensorsMax);
    } catch (cause) {
      if (look !== this.#look) return;
      this.failure = cause instanceof Error ? cause.message : String(cause);
      this.preview = null;
    }
    this.reading = false;
  }

  #take(preview: ImportPreview, sensorsMax: number): void {
    const places = this.sensors.map(({ place }) => place);
    this.failure = '';
    this.preview = preview;
    this.format = { ...preview.format, firstLine: String(preview.format.firstLine) };
    this.time = guessedTime(preview.guess.time);
    const guessed = preview.guess.sensors.slice(0, sensorsMax).map(guessedSensor);
    if (guessed.length === 0) guessed.push(noSensor());
    // A place that a person has said stays, whatever else is read anew.
    this.sensors = guessed.map((sensor, i) => ({ ...sensor, place: places[i] ?? sensor.place }));
  }

  holdSensors(count: number): void {
    const [first = noSensor(), second] = this.sensors;
    const other = PLACES.find((place) => place !== first.place) ?? null;
    this.sensors = count === 1 ? [first] : [first, second ?? noSensor(other)];
  }

  /** What was said of other choices no longer holds. */
  forgetChecks(): void {
    this.#check += 1;
    this.checks = this.sensors.map(() => null);
  }

  async check(): Promise<void> {
    const check = ++this.#check;
    const checks = await Promise.all(this.mappings.map((mapping) => this.#checkOf(mapping)));
    if (check === this.#check) this.checks = checks;
  }

  async #checkOf(mapping: TableDraft['mappings'][number]): Promise<SensorCheck | null> {
    if (mapping === null) return null;
    try {
      return await importApi.preview({ name: this.name, text: this.#head, mapping });
    } catch (cause) {
      const message = cause instanceof ApiFailure ? cause.message : String(cause);
      return { problems: [message], rateHz: null };
    }
  }
}

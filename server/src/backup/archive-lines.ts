/** Cuts a stream of bytes into the lines of an archive; at most one piece and one line are in memory. */
import { ArchiveFault, END_OF_ROWS, LINE_BYTES_MAX } from './archive-format.ts';

const AFTER_A_ROW = Buffer.from(`\n${END_OF_ROWS}`);
const AT_ONCE = Buffer.from(END_OF_ROWS);
const NEWLINE = 10;

export class ArchiveLines {
  readonly #source: AsyncIterator<Buffer>;
  /** What has been read and not been given out; begins at the beginning of a line. */
  #rest: Buffer = Buffer.alloc(0);

  constructor(source: AsyncIterable<Buffer>) {
    this.#source = source[Symbol.asyncIterator]();
  }

  /** Without its line end; null at the end of the stream. */
  async line(): Promise<string | null> {
    for (;;) {
      const end = this.#rest.indexOf(NEWLINE);
      if (end !== -1) {
        const line = this.#rest.toString('utf8', 0, end);
        this.#rest = this.#rest.subarray(end + 1);
        return line;
      }
      if (await this.#readMore()) continue;
      if (this.#rest.length > 0) throw new ArchiveFault('ends too early');
      return null;
    }
  }

  /** Pieces of whole lines up to the end of the rows, which is swallowed. */
  async *rows(): AsyncGenerator<Buffer> {
    for (;;) {
      const end = this.#endOfRows();
      if (end !== -1) {
        if (end > 0) yield this.#rest.subarray(0, end);
        this.#rest = this.#rest.subarray(end + AT_ONCE.length);
        return;
      }
      const whole = this.#rest.lastIndexOf(NEWLINE) + 1;
      if (whole > 0) {
        yield this.#rest.subarray(0, whole);
        this.#rest = this.#rest.subarray(whole);
      }
      if (!(await this.#readMore())) throw new ArchiveFault('ends too early');
    }
  }

  #endOfRows(): number {
    if (this.#rest.subarray(0, AT_ONCE.length).equals(AT_ONCE)) return 0;
    const before = this.#rest.indexOf(AFTER_A_ROW);
    return before === -1 ? -1 : before + 1;
  }

  async #readMore(): Promise<boolean> {
    const { value, done } = await this.#source.next();
    if (done) return false;
    this.#rest = this.#rest.length === 0 ? value : Buffer.concat([this.#rest, value]);
    if (this.#rest.length > LINE_BYTES_MAX) throw new ArchiveFault('is damaged: a line has no end');
    return true;
  }
}

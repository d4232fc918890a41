/**
 * The moving part of a tilt strip, on a canvas of its own above the axes. What was drawn is shifted by whole device pixels
 * and only the new piece is stroked: drawing the whole line in every frame is too much for a tablet.
 */
import { TRACE_WINDOW_MS, type TraceBuffer, type TraceName } from './trace-buffer.ts';

const LINE_PX = 2;
/** Without new angles the drawing moves on this often: as often as with them. */
const MOVE_EVERY_MS = 50;

/** In device pixels of the host. */
export interface LayerBox {
  left: number;
  top: number;
  width: number;
  height: number;
}

export class TraceLayer {
  readonly #canvas = document.createElement('canvas');
  readonly #context = this.#canvas.getContext('2d')!;
  readonly #buffer: TraceBuffer;
  readonly #name: TraceName;
  #ink = '';
  #reachDeg = 1;
  #linePx = LINE_PX;
  #pxPerMs = 0;
  #nowMs = 0;
  /** Pixel row of `now`, counted from time zero; null: everything is to be drawn again. */
  #row: number | null = null;
  /** Newest time in the buffer and newest time on the canvas: what lies in the future waits for its row. */
  #seenMs: number | undefined;
  #drawnMs = -Infinity;
  #base = -1;

  constructor(host: HTMLElement, buffer: TraceBuffer, name: TraceName) {
    this.#buffer = buffer;
    this.#name = name;
    this.#canvas.style.position = 'absolute';
    // A layer of its own for the browser too: what lies around it is not painted again.
    this.#canvas.style.willChange = 'transform';
    host.append(this.#canvas);
  }

  /** Draws everything again, as of the last `draw`: also a drawing that stands still stays there. */
  place(box: LayerBox, pxRatio: number, ink: string, reachDeg: number): void {
    this.#ink = ink;
    this.#reachDeg = reachDeg;
    this.#linePx = Math.round(LINE_PX * pxRatio);
    this.#pxPerMs = box.height / TRACE_WINDOW_MS;
    const { style } = this.#canvas;
    // One line width above `now`, so that half a line is not cut off where it enters.
    const [width, height] = [Math.round(box.width), Math.round(box.height) + this.#linePx];
    style.left = `${box.left / pxRatio}px`;
    style.top = `${(box.top - this.#linePx) / pxRatio}px`;
    style.width = `${width / pxRatio}px`;
    style.height = `${height / pxRatio}px`;
    this.#canvas.width = width;
    this.#canvas.height = height;
    this.#row = null;
    this.draw(this.#nowMs);
  }

  /** Draws if there is something new, or if the window has moved far enough. Says whether it did. */
  draw(nowMs: number): boolean {
    const newest = this.#buffer.utcMs.at(-1);
    const waits = Math.abs(nowMs - this.#nowMs) < MOVE_EVERY_MS;
    if (waits && this.#row !== null && newest === this.#seenMs && this.#buffer.base === this.#base) return false;
    this.#seenMs = newest;
    this.#nowMs = nowMs;
    const row = Math.floor(nowMs * this.#pxPerMs);

    const { width, height } = this.#canvas;
    const moved = this.#row === null || this.#buffer.base !== this.#base ? -1 : row - this.#row;
    this.#row = row;
    this.#base = this.#buffer.base;
    if (moved < 0 || moved >= height) {
      this.#context.clearRect(0, 0, width, height);
      this.#drawnMs = -Infinity;
    } else if (moved > 0) {
      this.#context.globalCompositeOperation = 'copy';
      this.#context.drawImage(this.#canvas, 0, moved);
      this.#context.globalCompositeOperation = 'source-over';
    }
    this.#stroke(row);
    return true;
  }

  destroy(): void {
    this.#canvas.remove();
  }

  /** The line from the last point on the canvas on. */
  #stroke(row: number): void {
    const { utcMs, [this.#name]: degrees } = this.#buffer;
    const fromMs = Math.max(this.#drawnMs, this.#nowMs - TRACE_WINDOW_MS);
    let from = utcMs.length;
    while (from > 0 && utcMs[from - 1]! > fromMs) from -= 1;
    if (from === utcMs.length) return;

    const context = this.#context;
    const middle = this.#canvas.width / 2;
    context.strokeStyle = this.#ink;
    context.lineWidth = this.#linePx;
    context.lineJoin = 'round';
    context.beginPath();
    let joined = false;
    // Two points back, so that the new piece turns where the old one ends.
    for (let i = Math.max(0, from - 2); i < utcMs.length; i++) {
      const time = utcMs[i]!;
      const y = this.#linePx + row - time * this.#pxPerMs;
      if (y < this.#linePx) break;
      const deg = degrees[i] ?? null;
      if (deg !== null) {
        // Right side up is drawn to the left.
        const x = middle * (1 - deg / this.#reachDeg);
        if (joined) context.lineTo(x, y);
        else context.moveTo(x, y);
      }
      joined = deg !== null;
      this.#drawnMs = time;
    }
    context.stroke();
  }
}

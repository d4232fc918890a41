/**
 * A tilt runs along a vertical plumb line: time goes up, newest on top, and the line
 * swings to the lower side (both tilts are positive with the right side up, so positive is drawn to the left).
 */
import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { TEXTS } from '../texts.ts';
import { TRACE_WINDOW_MS, type TraceBuffer, type TraceName } from './trace-buffer.ts';
import { TraceLayer } from './trace-layer.ts';

/** The scale never closes in further than this, so that standing still looks still. */
const REACH_DEG_MIN = 5;
const REACH_STEPS_DEG = [REACH_DEG_MIN, 10, 20, 45, 90];
/** The chart library draws the axes, which rarely change; the trace has its own layer. */
const AXES_ONLY: uPlot.AlignedData = [
  [-TRACE_WINDOW_MS, 0],
  [null, null],
];

export interface TiltPlot {
  draw: (nowUtcMs: number) => void;
  resize: (width: number, height: number) => void;
  /** Reads the colours again after the scheme has changed. */
  recolour: () => void;
  destroy: () => void;
}

function reach(largestDeg: number): number {
  return REACH_STEPS_DEG.find((step) => largestDeg <= step) ?? 90;
}

function colours(host: HTMLElement) {
  const style = getComputedStyle(host);
  const read = (name: string) => style.getPropertyValue(name).trim();
  return { ink: read('--ink'), soft: read('--ink-soft'), rule: read('--rule'), face: read('--face') };
}

export function createTiltPlot(host: HTMLElement, buffer: TraceBuffer, name: TraceName): TiltPlot {
  let tone = colours(host);
  let reachDeg = REACH_DEG_MIN;
  const layer = new TraceLayer(host, buffer, name);
  const axis = (side: uPlot.Axis.Side, scale: 'x' | 'y'): uPlot.Axis => ({
    scale,
    side,
    stroke: () => tone.soft,
    font: `12px ${tone.face}`,
    grid: { stroke: () => tone.rule, width: 1 },
    ticks: { show: false },
  });

  const plot = new uPlot(
    {
      width: Math.max(1, host.clientWidth),
      height: Math.max(1, host.clientHeight),
      legend: { show: false },
      cursor: { show: false },
      padding: [10, 14, 0, 0],
      scales: {
        x: { time: false, ori: 1, dir: 1, range: () => [-TRACE_WINDOW_MS, 0] },
        y: {
          ori: 0,
          dir: -1,
          range: () => [-reachDeg, reachDeg],
        },
      },
      axes: [
        {
          ...axis(3, 'x'),
          size: 38,
          splits: () => [-TRACE_WINDOW_MS, -TRACE_WINDOW_MS / 2, 0],
          values: (_plot, splits) =>
            splits.map((time) => (time === 0 ? TEXTS.tilt.now : TEXTS.tilt.ago(Math.round(-time / 1000)))),
        },
        {
          ...axis(2, 'y'),
          size: 24,
          splits: (_plot, _axis, min, max) => [min, min / 2, 0, max / 2, max],
          values: (_plot, splits) => splits.map((deg, i) => (i % 2 === 0 ? `${Math.abs(deg)}°` : '')),
        },
      ],
      series: [{}, { scale: 'y' }],
      hooks: {
        // The plumb line, under the trace.
        drawAxes: [
          (u) => {
            const x = Math.round(u.valToPos(0, 'y', true)) + 0.5;
            u.ctx.save();
            u.ctx.strokeStyle = tone.ink;
            u.ctx.lineWidth = uPlot.pxRatio;
            u.ctx.beginPath();
            u.ctx.moveTo(x, u.bbox.top);
            u.ctx.lineTo(x, u.bbox.top + u.bbox.height);
            u.ctx.stroke();
            u.ctx.restore();
          },
        ],
        draw: [(u) => layer.place(u.bbox, uPlot.pxRatio, tone.ink, reachDeg)],
      },
    },
    AXES_ONLY,
    host,
  );

  return {
    draw(nowUtcMs) {
      if (!layer.draw(nowUtcMs)) return;
      const needed = reach(buffer.largestDeg(name, nowUtcMs - TRACE_WINDOW_MS));
      if (needed === reachDeg) return;
      reachDeg = needed;
      plot.setData(AXES_ONLY);
    },
    resize: (width, height) => plot.setSize({ width: Math.max(1, width), height: Math.max(1, height) }),
    recolour() {
      tone = colours(host);
      plot.redraw(false);
    },
    destroy() {
      layer.destroy();
      plot.destroy();
    },
  };
}

/**
 * One angle over the stance, left over right: the mean of each side, and a band of one standard deviation. Left is a solid
 * line with a filled band; right is dashed, its band an outline: they stay apart without colour.
 */
import { WAVEFORM_POINTS, type Side, type Waveform } from '@ambipede/shared';
import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { TEXTS } from '../texts.ts';

export type CurvePair = Record<Side, Waveform | null>;

export interface CurvePlot {
  draw: (pair: CurvePair) => void;
  resize: (width: number, height: number) => void;
  recolour: () => void;
  destroy: () => void;
}

const PERCENT = Array.from({ length: WAVEFORM_POINTS }, (_, i) => (100 * i) / (WAVEFORM_POINTS - 1));
/** The scale never closes in further than this, so that noise does not look like movement. */
const REACH_DEG_MIN = 3;
const DASH = [8, 5];
const EDGE_DASH = [2, 4];

function colours(host: HTMLElement) {
  const style = getComputedStyle(host);
  const read = (name: string) => style.getPropertyValue(name).trim();
  return {
    ink: read('--ink'),
    soft: read('--ink-soft'),
    rule: read('--rule'),
    face: read('--face'),
    left: read('--left'),
    leftWash: read('--left-wash'),
    right: read('--right'),
  };
}

/** Columns in the order of the series below. Without a band its edges are empty. */
function columns({ left, right }: CurvePair): uPlot.AlignedData {
  const empty = PERCENT.map(() => null);
  const mean = (wave: Waveform | null) => wave?.mean ?? empty;
  const edge = (wave: Waveform | null, sign: 1 | -1) =>
    wave === null || wave.sd === null ? empty : wave.mean.map((deg, i) => deg + sign * wave.sd![i]!);
  return [PERCENT, edge(left, 1), edge(left, -1), edge(right, 1), edge(right, -1), mean(left), mean(right)];
}

export function createCurvePlot(host: HTMLElement): CurvePlot {
  let tone = colours(host);
  const axis = (scale: 'x' | 'y'): uPlot.Axis => ({
    scale,
    stroke: () => tone.soft,
    font: `12px ${tone.face}`,
    grid: { stroke: () => tone.rule, width: 1 },
    ticks: { show: false },
  });
  const line = (stroke: () => string, width: number, dash?: number[]): uPlot.Series => ({
    scale: 'y',
    stroke,
    width,
    points: { show: false },
    ...(dash === undefined ? {} : { dash }),
  });
  const left = () => tone.left;
  const right = () => tone.right;

  const plot = new uPlot(
    {
      width: Math.max(1, host.clientWidth),
      height: Math.max(1, host.clientHeight),
      legend: { show: false },
      cursor: { show: false },
      padding: [8, 22, 0, 0],
      scales: {
        x: { time: false, range: [0, 100] },
        y: {
          range: (_plot, min, max) => [
            Math.min(min ?? 0, -REACH_DEG_MIN) - 0.5,
            Math.max(max ?? 0, REACH_DEG_MIN) + 0.5,
          ],
        },
      },
      axes: [
        {
          ...axis('x'),
          size: 24,
          splits: () => [0, 25, 50, 75, 100],
          values: (_plot, at) => at.map(TEXTS.curves.percent),
        },
        { ...axis('y'), size: 40, values: (_plot, at) => at.map((deg) => `${deg < 0 ? '−' : ''}${Math.abs(deg)}°`) },
      ],
      series: [
        {},
        line(left, 0),
        line(left, 0),
        line(right, 1, EDGE_DASH),
        line(right, 1, EDGE_DASH),
        line(left, 3),
        line(right, 3, DASH),
      ],
      bands: [{ series: [1, 2], fill: () => tone.leftWash }],
      hooks: {
        // The line of no height and no lean, under the curves.
        drawAxes: [
          (u) => {
            const y = Math.round(u.valToPos(0, 'y', true)) + 0.5;
            u.ctx.save();
            u.ctx.strokeStyle = tone.ink;
            u.ctx.lineWidth = uPlot.pxRatio;
            u.ctx.beginPath();
            u.ctx.moveTo(u.bbox.left, y);
            u.ctx.lineTo(u.bbox.left + u.bbox.width, y);
            u.ctx.stroke();
            u.ctx.restore();
          },
        ],
      },
    },
    columns({ left: null, right: null }),
    host,
  );

  return {
    draw: (pair) => plot.setData(columns(pair)),
    resize: (width, height) => plot.setSize({ width: Math.max(1, width), height: Math.max(1, height) }),
    recolour() {
      tone = colours(host);
      plot.redraw(false);
    },
    destroy: () => plot.destroy(),
  };
}

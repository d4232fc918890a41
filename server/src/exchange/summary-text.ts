/** The summary table that `analyse` prints. */
import {
  METRICS,
  STANCE_METRIC_KEYS,
  type AnalysisResult,
  type HalfTurn,
  type MetricAsymmetry,
  type SideSummary,
  type TaskSummary,
} from '@ambipede/shared';

export function summaryText(result: AnalysisResult): string {
  const lines: string[] = [];
  const contacts = result.contacts.filter((c) => c.type === 'initial_contact');
  const count = (side: string): number => result.stances.filter((s) => s.side === side).length;
  lines.push(
    `Task ${result.task}, ${result.angles.t.length} frames, version ${result.version}`,
    `${contacts.length} initial contacts; stances kept: ${count('left')} left, ${count('right')} right, ${count('unknown')} of unknown side; ${result.quality.stancesLost} left out`,
  );
  for (const [place, mounting] of Object.entries(result.quality.mounting)) {
    lines.push(`Mounting of the ${place} sensor from: ${mounting.source}`, ...mounting.remarks.map((r) => `  ${r}`));
  }
  lines.push(...result.quality.remarks, '', tableHead());
  for (const key of STANCE_METRIC_KEYS) {
    const row = result.asymmetry[key];
    if (row && row.verdict !== 'not measured')
      lines.push(tableRow(`${METRICS[key].label}, ${METRICS[key].unit}`, METRICS[key].decimals, row));
  }
  const tasks = taskLines(result.taskSummary);
  if (tasks.length > 0) lines.push('', ...tasks);
  lines.push(
    '',
    'Difference = left - right with a 95 % interval. A measurement, not a diagnosis; decisions belong to a licensed practitioner.',
  );
  return lines.join('\n');
}

function tableHead(): string {
  return `${'Metric'.padEnd(36)}${'Left'.padStart(18)}${'Right'.padStart(18)}   Difference`;
}

function tableRow(label: string, decimals: number, row: MetricAsymmetry): string {
  const f = (value: number | null): string => (value === null ? '-' : value.toFixed(decimals));
  const side = (s: SideSummary): string => `${f(s.mean)} (n ${s.n})`.padStart(18);
  const interval = row.ci95 === null ? '' : ` [${f(row.ci95[0])}, ${f(row.ci95[1])}]`;
  return `${label.padEnd(36)}${side(row.left)}${side(row.right)}   ${f(row.difference)}${interval}  ${row.verdict}`;
}

const shown = (value: number | null | undefined, unit: string, decimals = 1): string =>
  value == null ? 'not measured' : `${value.toFixed(decimals)} ${unit}`;

function separationText({ separationOutDeg: out, separationBackDeg: back }: HalfTurn): string {
  if (out === null) return 'separation not measured';
  return `${out < 0 ? 'pelvis' : 'chest'} ahead ${shown(Math.abs(out), 'deg')}, then back past it ${shown(back, 'deg')}`;
}

function taskLines(tasks: TaskSummary): string[] {
  const at = (tS: number): string => `at ${tS.toFixed(1)} s`;
  return [
    ...tasks.stand.map(
      (s) =>
        `Quiet stand ${at(s.startS)}: pelvis ${shown(s.restingLeanDeg.pelvis, 'deg')}, trunk ${shown(s.restingLeanDeg.trunk, 'deg')} (+ right side up); chest leads: ${s.chestLeads ?? 'not told'}`,
    ),
    ...tasks.singleLegStand.map(
      (s) =>
        `Single-leg stand, ${s.side ?? 'side not marked'}, ${at(s.startS)}: held ${shown(s.heldS, 's')}, swing side ${shown(s.swingSideHeightDeg, 'deg')} (+ up), lean to stance ${shown(s.leanToStanceDeg, 'deg')}, corrections ${s.corrections?.left ?? '-'} left, ${s.corrections?.right ?? '-'} right`,
    ),
    ...tasks.runUp.map((r) =>
      r.takeOff === null
        ? `Run-up ${at(r.startS)}: take-off not told`
        : `Run-up: take-off ${at(r.takeOff.t)} from the ${r.takeOff.side} foot, contact ${shown(r.takeOff.contactTimeS, 's', 3)}, flight ${shown(r.takeOff.flightTimeS, 's', 3)}`,
    ),
    ...[...tasks.runUp.flatMap((r) => (r.landing ? [r.landing] : [])), ...tasks.landing].map(
      (l) =>
        `Landing ${at(l.t)}: pelvis peak ${shown(l.peakVerticalAccelerationG.pelvis, 'g', 2)}, turning (proxy for knee twist, no joint load) ${shown(l.kneeTwistProxyDegPerS.pelvis, 'deg/s', 0)}, quiet after ${shown(l.settleS, 's')}`,
    ),
    ...tasks.halfTurn.map(
      (t) =>
        `Half-turn to the ${t.direction} ${at(t.startS)}: ${shown(t.durationS, 's', 2)}, peak ${shown(t.peakRateDegPerS.pelvis, 'deg/s', 0)}, ${separationText(t)}, quiet after ${shown(t.settleS, 's')}`,
    ),
    ...tasks.remarks,
  ];
}

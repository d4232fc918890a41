/** The summary table that `analyse` prints. */
import {
  METRICS,
  STANCE_METRIC_KEYS,
  type AnalysisResult,
  type MetricAsymmetry,
  type SideSummary,
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

/** What the crowd of the load benchmark has seen. */
export interface CrowdReport {
  /** For each stance its first appearance on a dashboard's socket, ms after the toe-off. */
  delaysMs: number[];
  /** Samples measured by all sensors, and those acknowledged to them. */
  sampled: number;
  acknowledged: number;
  /** Sensors that ended with a complaint of the server or the network. */
  problems: number;
  reconnects: number;
  slowViewersCutOff: number;
  /** Processor time of the crowd itself: near the length of the run, the crowd was the bottleneck. */
  crowdCpuS: number;
}

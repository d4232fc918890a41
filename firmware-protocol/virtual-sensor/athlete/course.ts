/**
 * Movement of the centre of mass on the spot: forces that carry it from one planned state to the next. As in a bout of
 * gait, what moves the body is always the force; here each push is a smooth pulse whose size and slant are solved for.
 */
import { effect, type Motion } from './ground-force.ts';
import { GRAVITY_MPS2, smoothStep } from './plan.ts';

/** State along one line at one time: metres from where the athlete stood, and metres per second. */
export interface Waypoint {
  tS: number;
  placeM: number;
  velocityMps: number;
  /** Nothing pushes from here to the next: the body flies. */
  flies?: boolean;
}

export type Line = 'up' | 'right' | 'forward';

export interface Course {
  line: Line;
  /** Of right and forward. */
  headingRad: number;
  waypoints: Waypoint[];
}

/** The feet let go of the weight, and take it on, in about this time (M). */
const UNLOAD_S = 0.08;

/** Adds the forces of the courses to those that are there. Times are taken to the nearest point of the grid. */
export function follow(m: Motion, courses: readonly Course[]): void {
  for (const course of courses) {
    if (course.line === 'up') loseWeight(m, course.waypoints);
    const { waypoints } = course;
    for (let k = 0; k + 1 < waypoints.length; k++) {
      if (!waypoints[k]!.flies) push(m, course, waypoints[k]!, waypoints[k + 1]!);
    }
  }
}

/** Metres and metres per second of a flight of `flightS` that ends `belowM` under where it began: velocities at its ends. */
export function flightOf(flightS: number, belowM: number, dt: number): { leaveMps: number; touchMps: number } {
  const wholeS = Math.round(flightS / dt) * dt;
  const leaveMps = (GRAVITY_MPS2 * wholeS) / 2 - belowM / wholeS;
  return { leaveMps, touchMps: leaveMps - GRAVITY_MPS2 * wholeS };
}

/** In flight the ground bears nothing; just before and after, less. */
function loseWeight(m: Motion, waypoints: readonly Waypoint[]): void {
  waypoints.forEach((from, k) => {
    const to = waypoints[k + 1];
    if (!from.flies || to === undefined) return;
    const [first, last] = [Math.round(from.tS / m.dt), Math.round(to.tS / m.dt)];
    const rampPoints = Math.round(UNLOAD_S / m.dt);
    for (let g = first - rampPoints; g <= last + rampPoints; g++) {
      const share = g < first ? (first - g) / rampPoints : g > last ? (g - last) / rampPoints : 0;
      m.forceY[g] = m.forceY[g]! * smoothStep(share);
    }
  });
}

function push(m: Motion, course: Course, from: Waypoint, to: Waypoint): void {
  const { dt } = m;
  const [first, last] = [Math.round(from.tS / dt), Math.round(to.tS / dt)];
  const length = last - first + 1;
  const spanS = (last - first) * dt;
  const even = new Float64Array(length);
  const slanted = new Float64Array(length);
  for (let i = 0; i < length; i++) {
    const tau = i / (length - 1);
    even[i] = Math.sin(Math.PI * tau) ** 2;
    slanted[i] = even[i]! * (2 * tau - 1);
  }
  // What the weight and what bears it already do.
  const there = course.line === 'up' ? m.forceY.slice(first, last + 1).map((f) => f - GRAVITY_MPS2) : null;
  const own = there === null ? [0, 0] : effect(there, first, first, last, dt);
  const [v1, p1] = effect(even, first, first, last, dt);
  const [v2, p2] = effect(slanted, first, first, last, dt);
  const velocity = to.velocityMps - from.velocityMps - own[0]!;
  const place = to.placeM - from.placeM - from.velocityMps * spanS - own[1]!;
  const det = v1 * p2 - v2 * p1;
  const a = (velocity * p2 - v2 * place) / det;
  const b = (v1 * place - velocity * p1) / det;
  const [x, y, z] = direction(course);
  for (let i = 0; i < length; i++) {
    const force = a * even[i]! + b * slanted[i]!;
    m.forceX[first + i]! += x * force;
    m.forceY[first + i]! += y * force;
    m.forceZ[first + i]! += z * force;
  }
}

function direction({ line, headingRad }: Course): [number, number, number] {
  const [c, s] = [Math.cos(headingRad), Math.sin(headingRad)];
  if (line === 'up') return [0, 1, 0];
  return line === 'forward' ? [c, 0, -s] : [s, 0, c];
}

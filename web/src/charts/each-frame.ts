/** One loop for everything that moves, so that all of it is drawn in the same frame. The browser halts it on a hidden page. */
const steps = new Set<() => void>();
let frame = 0;

function next(): void {
  frame = requestAnimationFrame(next);
  for (const step of steps) step();
}

/** Calls `step` once per screen frame until the function that it returns is called. */
export function eachFrame(step: () => void): () => void {
  if (steps.size === 0) frame = requestAnimationFrame(next);
  steps.add(step);
  return () => {
    steps.delete(step);
    if (steps.size === 0) cancelAnimationFrame(frame);
  };
}

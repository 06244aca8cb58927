/* Where the lines of a map's grid fall, apart from any map so that it can be tested alone. */

const STEPS = [30, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0005];

/** The widest step that still puts about four lines across the view. */
export function gridStep(degreesAcross) {
  return STEPS.find((step) => degreesAcross / step >= 4) ?? STEPS.at(-1);
}

/** The multiples of a step between two values; counted in whole numbers so that errors do not add up. */
export function gridLines(from, to, step) {
  const lines = [];
  for (let n = Math.ceil(from / step); n * step <= to; n += 1) lines.push(Number((n * step).toFixed(6)));
  return lines;
}

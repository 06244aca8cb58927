/** One sender at a time among the tabs of this phone. */

/**
 * Run work alone, or return null when another tab is at it.
 *
 * With Web Locks the work is told that it is exclusive, so that items left
 * "sending" by a killed page can be taken back at once; without them the leases
 * in the store keep two tabs apart.
 */
export function alone(name, locks = globalThis.navigator?.locks) {
  if (!locks) return (work) => work(false);
  return (work) => locks.request(name, { ifAvailable: true }, (lock) => (lock ? work(true) : null));
}

/** How many items fit into one request. */

export const MOST_ITEMS = 50;
export const MOST_BYTES = 256 * 1024;
const ENVELOPE = '{"items":[]}'.length;

/** The parts of an item that travel. */
export function wire({ id, kind, schema, sha256, body, personal }) {
  return { id, kind, schema, sha256, body, personal };
}

const size = (item) => new TextEncoder().encode(JSON.stringify(wire(item))).length + 1;

/** The first items that fit; one item that is too large travels alone, so that the server can say so. */
export function firstBatch(items) {
  let bytes = ENVELOPE;
  const batch = [];
  for (const item of items.slice(0, MOST_ITEMS)) {
    bytes += size(item);
    if (batch.length > 0 && bytes > MOST_BYTES) break;
    batch.push(item);
  }
  return batch;
}

/** Two halves of a batch that was too large for the server. */
export function halves(items) {
  const middle = Math.ceil(items.length / 2);
  return [items.slice(0, middle), items.slice(middle)];
}
